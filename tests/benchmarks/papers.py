"""How long the papers of a circuit take by its size: lists, reading them back, ladder sheets. Nothing is asserted."""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter
from typing import TypeVar

from compiler.machine import Machine
from grammar.rungs.read import read
from grammar.rungs.tree import Circuit
from grammar.source import Source
from targets.choices import Style
from targets.ladder_sheet import Heading, ladder_sheets
from targets.wiring.alike import lists_unlike
from targets.wiring.lists import sheets
from targets.wiring.nets import wired

__all__ = ["chain", "main"]

Made = TypeVar("Made")


def chain(rungs: int) -> Circuit:
    """So many relays, each picked up by the one before it and a switch, sealed in and dropped out by the next."""
    switches = "".join(f"limit switch LS{k}\n" for k in range(1, rungs // 2 + 2))
    relays = "".join(f"relay CR{k}\n" for k in range(1, rungs + 1))
    lines = "".join(
        f"# CR{k} is step {k}; it follows CR{k - 1 or rungs} on LS{k // 2 + 1}.\n"
        f"rung {k}: (CR{k - 1 or rungs} and LS{k // 2 + 1}) or CR{k}, CR{k % rungs + 1} NC, feeds CR{k}\n"
        for k in range(1, rungs + 1)
    )
    reading = read(Source("chain.rungs", switches + relays + lines))
    assert reading.sound
    return reading.tree


def main() -> None:
    """Prints a row a size."""
    print("papers of a circuit            wiring     lists   read back   one style   sheets")
    for rungs in (10, 100, 1_000):
        print(f"  {rungs:5d} rungs             {_row(chain(rungs))}")


def _row(circuit: Circuit) -> str:
    made, wiring = _timed(lambda: wired(circuit))
    lists, listing = _timed(lambda: sheets(made, Machine()))
    unlike, reading = _timed(lambda: lists_unlike(circuit, lists))
    assert unlike == ()
    heading = Heading("Bench", "chain")
    drawn, drawing = _timed(lambda: ladder_sheets(made, heading, style=Style.IEC, held=frozenset()))
    return f"{wiring:7.2f} s {listing:7.2f} s {reading:9.2f} s {drawing:9.2f} s {len(drawn):8d}"


def _timed(make: Callable[[], Made]) -> tuple[Made, float]:
    start = perf_counter()
    made = make()
    return made, perf_counter() - start


if __name__ == "__main__":
    main()
