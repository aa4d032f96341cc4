"""A proof puts the search for garbage off, and leaves it as it found it."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest

from compiler.proof.collecting import seldom_collected


@pytest.fixture(autouse=True)
def as_it_was() -> Iterator[None]:
    before = gc.get_threshold()
    yield
    gc.set_threshold(*before)


@pytest.mark.parametrize("found", [(700, 10, 10), (500_000, 10, 1000), (0, 10, 10)])
def test_it_is_put_off_and_then_as_it_was(found: tuple[int, int, int]) -> None:
    gc.set_threshold(*found)
    inside = []

    @seldom_collected()
    def proof() -> None:
        inside.append(gc.get_threshold())
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        proof()
    assert gc.get_threshold() == found
    assert inside == [found if not found[0] else (max(found[0], 100_000), 20, max(found[2], 100))]
