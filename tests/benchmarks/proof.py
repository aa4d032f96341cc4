"""The proof beside two other ways to the same answer: bounded model checking by z3, and unit ticks.

One run, one machine, the same pairs and the same world (a free operator; no jam, the supply always there). The proof
and the ticks settle a pair for runs of any length; z3 only for runs of so many events, asked in the better of two
modes: once for all depths together, or depth by depth keeping what was learnt. Its better time is what is divided.
The encoding is our own (``tests/proof/bmc.py``), with each reaction written out eight looks deep; a specialist might
make it quicker. Fine ticks are ten to one tick: what longer times, or finer ones, cost a search that counts them.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from time import perf_counter

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.proof.explore import explore
from compiler.proof.product import Product
from compiler.proof.world import World
from grammar.rungs.tree import Circuit
from tests.proof.bmc import Mode, Unrolled, counterexample_depth
from tests.proof.cases import ARRANGEMENTS, TICK, arranged, chart, press
from tests.proof.formulas import ChartFormulas, CircuitFormulas
from tests.proof.rules import Rules
from tests.proof.ticks import explore_ticks

__all__ = ["main"]

_DEPTHS = (6, 10, 14)
_PRESS = press()
_LOADS = [load.name for load in _PRESS.loads]
_WORLD = World(no_jam=True, supplied=True)
_RULES = Rules(no_jam=True, supplied=True)
_TIMES = 5


def main() -> None:
    """Print one line for each pair: the chart of a small press beside an arrangement of it."""
    print("\nproof: milliseconds to a verdict; in brackets how many times as long as the proof takes\n")
    heads = "".join(f"{f'z3, {depth} events':>26}" for depth in _DEPTHS)
    print(f"{'pair':<24}{'verdict':>9}{'proof':>8}{'ticks':>16}{'fine ticks':>16}{heads}")
    of = chart(_PRESS)
    for name in ARRANGEMENTS:
        for anti_repeat in (False, True):
            told = name + ", anti-repeat" * anti_repeat
            print(_line(told, of, arranged(name, of, _PRESS, anti_repeat=anti_repeat)), flush=True)


def _line(name: str, of: Chart, drawn: Circuit) -> str:
    driver, shadow = chart_logic(of), circuit_logic(drawn, _PRESS)
    proof, ending = _timed(lambda: explore(Product(driver, shadow, _PRESS), _WORLD).ending, _TIMES)
    line = f"{name:<24}{ending!s:>9}{proof:>8.1f}"
    for tick_us in (TICK, TICK // 10):
        ticks = partial(explore_ticks, driver, shadow, _PRESS, _RULES, tick_us=tick_us)
        line += f"{_beside(_timed(ticks, 1)[0], proof):>16}"
    for depth in _DEPTHS:
        times = {mode: _timed(partial(_by_z3, of, drawn, depth, mode), 1)[0] for mode in Mode}
        better = min(times, key=lambda mode: times[mode])
        line += f"{_beside(times[better], proof) + ' ' + better:>26}"
    return line


def _by_z3(of: Chart, drawn: Circuit, depth: int, mode: Mode) -> int | None:
    unrolled = Unrolled(ChartFormulas(of, _LOADS), CircuitFormulas(drawn, _LOADS), _PRESS)
    return counterexample_depth(unrolled, depth, mode)


def _beside(time: float, proof: float) -> str:
    return f"{time:,.0f} ({time / proof:,.0f}x)"


def _timed(work: Callable[[], object], times: int) -> tuple[float, object]:
    """The least of so many times, in milliseconds, and the answer."""
    best, answer = float("inf"), None
    for _ in range(times):
        started = perf_counter()
        answer = work()
        best = min(best, (perf_counter() - started) * 1e3)
    return best, answer
