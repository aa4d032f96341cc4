"""Checks of the proof that share nothing with it: a unit-tick explorer, bounded model checking, shortest paths."""
