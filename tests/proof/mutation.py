"""``python -m tests.proof.mutation``: every one-element change of every arrangement of six sequences, judged.

A change counts as *differs* when it does in the world in which the sound circuit is the same as the sequence (its own
assumptions, the weakest), and as *same* when it is proved the same there. The tick explorer must agree on each one.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.proof.explore import Ending, explore
from compiler.proof.product import Product
from compiler.proof.world import WORKING, World
from grammar.rungs.tree import Circuit
from tests.proof.cases import TICK, UNIT, arranged
from tests.proof.rules import rules_of
from tests.proof.sequences import SEQUENCES, Sequence
from tests.proof.spoiling import KINDS, spoilt
from tests.proof.ticks import explore_ticks

__all__ = ["Judged", "counts", "judged", "world_of"]


@dataclass(frozen=True, slots=True)
class Judged:
    """A change, its ending, and what the tick explorer says of it: whether it differs."""

    kind: str
    what: str
    ending: Ending
    ticks_differ: bool


def world_of(sequence: Sequence, circuit: Circuit) -> World:
    """The first world, in the published order, in which the sound circuit is the same. Raises StopIteration."""
    product = Product(chart_logic(sequence.chart), circuit_logic(circuit, sequence.machine), sequence.machine)
    return next(world for world in WORKING if explore(product, world).ending is Ending.ALIKE)


def judged(sequence: Sequence, arrangement: str) -> Iterator[Judged]:
    """Every change of one arrangement, with an anti-repeat relay."""
    machine = sequence.machine
    sound = arranged(arrangement, sequence.chart, machine, anti_repeat=True)
    world = world_of(sequence, sound)
    driver = chart_logic(sequence.chart)
    for kind, what, circuit in spoilt(sound, preset_by_us=UNIT):
        shadow = circuit_logic(circuit, machine)
        explored = explore(Product(driver, shadow, machine), world)
        ticked = explore_ticks(driver, shadow, machine, rules_of(world), tick_us=TICK)
        yield Judged(kind, what, explored.ending, ticked.differs)


def counts(changes: list[Judged]) -> dict[str, tuple[int, int, int]]:
    """For each kind of change: proved the same, shown to differ, not settled."""
    found = Counter((change.kind, change.ending) for change in changes)
    endings = (Ending.ALIKE, Ending.DIFFERS, Ending.NOT_SETTLED)
    return {kind: (found[kind, endings[0]], found[kind, endings[1]], found[kind, endings[2]]) for kind in KINDS}


def main() -> None:
    """Print the table; ``--same`` also lists the changes that make no difference."""
    print("of each kind of change: proved the same / shown to differ / not settled\n")
    print(f"{'sequence':<18}{'arrangement':<13}" + "".join(f"{kind:>15}" for kind in KINDS) + "   ticks disagree")
    for sequence in SEQUENCES:
        for arrangement in sequence.arrangements:
            changes = list(judged(sequence, arrangement))
            table = counts(changes)
            cells = "".join(f"{'/'.join(map(str, table[kind])):>15}" for kind in KINDS)
            wrong = sum((c.ending is Ending.DIFFERS) != c.ticks_differ for c in changes)
            print(f"{sequence.name:<18}{arrangement:<13}{cells}{wrong:>17}", flush=True)
            if "--same" in sys.argv:
                for change in changes:
                    if change.ending is Ending.ALIKE:
                        print(f"    {change.kind}: {change.what}")


if __name__ == "__main__":
    main()
