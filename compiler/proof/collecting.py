"""Garbage seldom looked for while a proof goes on."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["seldom_collected"]

_SELDOM = (100_000, 20, 100)
"""How many new objects, and then how many such looks, before Python looks for circles of garbage again: among the
new, among those that have been there for a while, among all."""


@contextmanager
def seldom_collected() -> Iterator[None]:
    """A proof keeps nearly all that it makes, and makes few circles: to look for them after every few hundred objects
    takes a fifth of its time and finds nothing. What is in no circle is freed at once all the same. As it was
    afterwards; where it is turned off it stays so."""
    before = gc.get_threshold()
    if before[0]:
        gc.set_threshold(*map(max, before, _SELDOM))
    try:
        yield
    finally:
        gc.set_threshold(*before)
