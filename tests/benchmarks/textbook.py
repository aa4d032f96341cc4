"""What a textbook pair costs, stage by stage: dwell circuits by the three kinds of timer, and the chart they are of.

Nothing is kept from one round to the next but the grammar and what has been imported: every round reads both texts
as they are printed, comments and all, makes their settling code, searches, and times the shortest run. The least CPU
time of many rounds is told, for each stage by itself. A free operator, no jam, the supply always there; the machine
is one cylinder with a switch at each end and a hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from time import process_time
from typing import TypeVar

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_faults, circuit_logic, machine_devices
from compiler.logic import Logic
from compiler.proof.explore import Ending, explore
from compiler.proof.product import Product
from compiler.proof.witness import scenario_of
from compiler.proof.world import World
from grammar.rungs import read, write
from grammar.rungs.lines import cut
from grammar.rungs.parse import parser, start_word
from grammar.rungs.tree import Circuit
from grammar.source import Source
from tests.proof.cases import arranged, chart, press

__all__ = ["main"]

_PRESS = press()
_CHART = chart(_PRESS)
_WORLD = World(no_jam=True, supplied=True)
_ROUNDS = 300
_SEQUENCE = "the chart"
_PAIRS = (
    ("on-delay", "one-shot"),
    ("off-delay", "one-shot"),
    ("on-delay", "off-delay"),
    ("on-delay, anti-repeat", "off-delay, anti-repeat"),
    (_SEQUENCE, "on-delay"),
    (_SEQUENCE, "one-shot, anti-repeat"),
    (_SEQUENCE, "on-delay, anti-repeat"),
)

Answer = TypeVar("Answer")


def main() -> None:
    """Print a line for each pair, and what lark alone takes for the same texts."""
    print("\nproof: textbook pairs, milliseconds (the chart's own text is not read here; alike, there is no run)\n")
    first = _first_time()
    for pair in _PAIRS:
        print(_line(*pair), flush=True)
    texts = [_text("on-delay"), _text("off-delay")]
    lark = _least(lambda: [parser().parse(line, start=start) for text in texts for line, start in _lines(text)])[0]
    print(f"on-delay and off-delay: lark alone, from the same lines to trees of its own, {lark:.2f}")
    print(f"on-delay and off-delay, the first time in a process, the grammar made ready: {first:.0f}")


def _line(one: str, other: str) -> str:
    names = [name for name in (one, other) if name != _SEQUENCE]
    texts = [_text(name) for name in names]
    reading, circuits = _least(lambda: [_read(text) for text in texts])
    settling, (driver, shadow) = _least(lambda: _settled(circuits))
    search, explored = _least(lambda: explore(Product(driver, shadow, _PRESS), _WORLD))
    running = 0.0
    if explored.ending is Ending.DIFFERS:
        product = Product(driver, shadow, _PRESS)
        last = explore(product, _WORLD).last
        assert last is not None
        running, _ = _least(lambda: scenario_of(product, last, _WORLD, "the shortest run"))
    stages = f"read {reading:.2f}, settle {settling:.2f}, explore {search:.2f}, run {running:.2f}"
    total = reading + settling + search + running
    return f"{f'textbook pair, {one} / {other}':<61} {explored.ending:<8} {stages}, sum {total:.2f}"


def _text(name: str) -> str:
    """An arrangement as it is printed."""
    arrangement, _, anti_repeat = name.partition(", ")
    return write(arranged(arrangement, _CHART, _PRESS, anti_repeat=bool(anti_repeat)))


def _read(text: str) -> Circuit:
    reading = read(Source("bench", text), machine_devices(_PRESS))
    assert reading.sound
    assert not circuit_faults(reading.tree, _PRESS)
    return reading.tree


def _settled(circuits: list[Circuit]) -> list[Logic]:
    charted: list[Logic] = [chart_logic(_CHART)] if len(circuits) == 1 else []
    return [*charted, *(circuit_logic(circuit, _PRESS) for circuit in circuits)]


def _lines(text: str) -> Iterator[tuple[str, str]]:
    """The lines of a list and what each is to be read as."""
    return ((line.text, start_word(line)) for line in cut(text).lines)


def _first_time() -> float:
    start = process_time()
    driver, shadow = _settled([_read(_text(name)) for name in ("on-delay", "off-delay")])
    explore(Product(driver, shadow, _PRESS), _WORLD)
    return 1e3 * (process_time() - start)


def _least(work: Callable[[], Answer]) -> tuple[float, Answer]:
    """The least CPU time of many rounds, in milliseconds, and the answer."""
    best, answer = float("inf"), work()
    for _ in range(_ROUNDS):
        start = process_time()
        answer = work()
        best = min(best, process_time() - start)
    return 1e3 * best, answer


if __name__ == "__main__":
    main()
