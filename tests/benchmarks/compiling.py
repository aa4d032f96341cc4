"""How compile time grows with steps and with actuators, beside the bare parse of the same text in the same run.

The exponent is the slope of the logarithm of the time over that of the size, by least squares: 1 is linear. Invented
machines. ``python -m tests.benchmarks.compiling`` runs this alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from time import process_time

from compiler.understand import understand
from grammar.layout import lay_out
from grammar.sequence.joining import joined
from grammar.sequence.parse import parse
from grammar.sequence.read import read
from grammar.source import Source
from targets.build import emit_all
from targets.target import Options

__all__ = ["main", "program"]

_STEPS = (10, 30, 100, 300, 1_000, 3_000, 10_000)
_ACTUATORS = (2, 4, 8, 16, 32, 64)
_EMITTED_STEPS = 1_000  # beyond this only reading and lowering are timed: a panel of 10,000 relays is no panel


def program(steps: int, actuators: int) -> str:
    """A cycle of so many strokes, the cylinders taking turns."""
    lines = ['machine "Long row"']
    for k in range(1, actuators + 1):
        lines += [
            f"pneumatic cylinder C{k}",
            "    stroke 100 mm",
            f"    single solenoid valve Y{k}, spring return",
            f"    limit switch A{k} at end, B{k} at home",
        ]
    lines += ["pushbutton START", "pushbutton STOP, normally closed", "cycle", "    when START is pressed"]
    for n in range(steps):
        verb, place = ("retract", "at-home") if (n // actuators) % 2 else ("extend", "at-end")
        lines.append(f"    {verb} C{n % actuators + 1} until {place}")
    return "\n".join(lines) + "\n"


def _bare(text: str) -> Callable[[], object]:
    """The parse of every clause and nothing else."""
    clauses = [clause.text for line in lay_out(Source("x", text)).lines for clause in joined(line.clauses)]

    def run() -> None:
        for clause in clauses:
            parse(clause)

    return run


def _timed(run: Callable[[], object]) -> float:
    start = process_time()
    run()
    return process_time() - start


def _exponent(sizes: tuple[int, ...], times: list[float]) -> float:
    """The slope over the larger sizes, where what every run costs no longer counts."""
    points = [(math.log(n), math.log(t)) for n, t in zip(sizes, times, strict=False)][-4:]
    mean_x, mean_y = (sum(p[k] for p in points) / len(points) for k in (0, 1))
    return sum((x - mean_x) * (y - mean_y) for x, y in points) / sum((x - mean_x) ** 2 for x, _ in points)


def _table(what: str, sizes: tuple[int, ...], text_of: Callable[[int], str]) -> None:
    print(f"\n{what:>10}  bare parse      read   compile      emit   compile/parse")
    columns: dict[str, list[float]] = {"parse": [], "read": [], "compile": [], "emit": []}
    for size in sizes:
        source = Source("long.seq", text_of(size))
        columns["parse"].append(_timed(_bare(source.text)))
        columns["read"].append(_timed(partial(read, source)))
        columns["compile"].append(_timed(partial(understand, source)))
        if what == "actuators" or size <= _EMITTED_STEPS:
            understood = understand(source)
            columns["emit"].append(_timed(partial(emit_all, understood, Options())))
        row = [columns[key][-1] if len(columns[key]) == len(columns["parse"]) else None for key in columns]
        ratio = columns["compile"][-1] / columns["parse"][-1]
        print(f"{size:>10}" + "".join(f"{'-' if t is None else f'{t:.3f} s':>10}" for t in row) + f"{ratio:>12.1f}")
    said = (f"{key} {_exponent(sizes, times):.2f}" for key, times in columns.items())
    print(f"  exponents over the largest: {', '.join(said)}")


def main() -> None:
    """Prints both tables."""
    print("Compiling (CPU time)")
    parse("cycle")  # the parser is built once
    _table("steps", _STEPS, lambda steps: program(steps, 8))
    _table("actuators", _ACTUATORS, lambda actuators: program(256, actuators))


if __name__ == "__main__":
    main()
