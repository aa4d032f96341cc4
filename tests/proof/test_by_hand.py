"""The proof and the tick explorer on pairs whose verdict is known beforehand."""

from __future__ import annotations

import pytest

from compiler.proof.explore import Ending, explore
from compiler.proof.product import Product
from tests.proof.by_hand import PAIRS, Pair
from tests.proof.cases import TICK
from tests.proof.rules import rules_of
from tests.proof.ticks import explore_ticks


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)
def test_known_verdicts(pair: Pair) -> None:
    for world, events in pair.events:
        explored = explore(Product(pair.driver, pair.shadow, pair.machine), world)
        assert explored.ending is (Ending.ALIKE if events is None else Ending.DIFFERS), world
        assert (explored.last and explored.last.depth) == events, world
        ticked = explore_ticks(pair.driver, pair.shadow, pair.machine, rules_of(world), tick_us=TICK)
        assert (ticked.events if ticked.differs else None) == events, (world, ticked.run)
