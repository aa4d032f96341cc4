"""The proof by induction: two logics are the same whatever their inputs do, shown part by part and never whole.

A logic is read as decision diagrams from its own text. Nothing here knows a machine or a clock.
"""
