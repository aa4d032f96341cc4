"""Judging an implementation against the sequence: the runs it is put through, and the verdict on what was seen.

The comparing core is in ``compiler.simulation.joint``, so that an exhaustive search can drive it as well.
"""
