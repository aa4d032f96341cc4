"""A run with its causes: which contacts closed or opened, in which rungs, what that did to coils and loads, and what
valves and rods made of it; of a chart, which transitions cleared. Everything is taken from the run as it happens:
nothing here knows one arrangement from another. Words live elsewhere.
"""

from compiler.walk.record import Record, record

__all__ = ["Record", "record"]
