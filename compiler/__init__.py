"""Meaning, not paper: the machine, the chart of its sequence, and what every implementation of it does.

A sequence tree is lowered to a Machine and a Chart; a Chart, a rung list and a structured text program each
become a Logic; a Logic is closed round the Plant, simulated and compared. Nothing here lays out text or draws,
and nothing here imports targets.
"""
