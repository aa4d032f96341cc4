"""How the proof grows: long chains, cylinders at once, parallel branches, stale timers. Nothing is asserted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from time import perf_counter

from compiler.chart import Action, Chart, Forcing, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic, machine_devices
from compiler.condition import Always, Elapsed, Rise, Signal, both
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.explore import Explored, explore
from compiler.proof.induction.induct import Shown, always_same
from compiler.proof.product import Product
from compiler.proof.unbound import TooMany, Unbound
from compiler.proof.world import World
from compiler.understand import Understood, understand
from grammar.rungs.read import read
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.target import Options

__all__ = ["branches", "circuit", "main"]

_FREE_HAND = World(no_jam=True, supplied=True)
_DWELL = """\
timer TR1, on-delay 4 s
rung 1: START or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, E0, feeds TR1
rung 3: CR1, feeds SOL0
"""


def program(steps: int, cylinders: int) -> Understood:
    """Cylinders that go out and back one after the other, until there are so many steps. START works at home."""
    lines = ['machine "Bench"']
    for c in range(cylinders):
        lines += [
            f"hydraulic cylinder C{c}",
            f"    single solenoid valve SOL{c}, spring return",
            f"    limit switch E{c} at end, H{c} at home",
        ]
    lines += ["pushbutton START, normally open", "pushbutton STOP, normally closed"]
    lines += ["home when " + " and ".join(f"C{c} is at-home" for c in range(cylinders)), "cycle"]
    lines += ["    when START is pressed"]
    for k in range(steps // 2):
        lines += [f"    extend C{k % cylinders} until at-end", f"    retract C{k % cylinders} until at-home"]
    understood = understand(Source("bench", "\n".join(lines) + "\n"))
    assert understood.chart is not None
    return understood


def together(cylinders: int) -> tuple[Machine, Chart]:
    """All cylinders out at once, a hold, and all back."""
    plain = program(2 * cylinders, cylinders)
    assert plain.chart is not None
    ends = both(*(Signal(device=f"E{c}") for c in range(cylinders)))
    homes = both(*(Signal(device=f"H{c}") for c in range(cylinders)))
    out = tuple(Action(output=f"SOL{c}") for c in range(cylinders))
    steps = (
        Step(name="S0", initial=True),
        Step(name="S1", actions=out),
        Step(name="S2", actions=out),
        Step(name="S3"),
    )
    conditions = (both(Rise(device="START"), homes), ends, Elapsed(step="S2", time_us=5_000_000), homes)
    return plain.machine, plain.chart.model_copy(
        update={
            "steps": steps,
            "transitions": tuple(
                Transition(name=f"T{k}", sources=(f"S{k}",), targets=(f"S{(k + 1) % 4}",), condition=condition)
                for k, condition in enumerate(conditions)
            ),
            "forcing": Forcing(condition=Signal(device="STOP")),
        }
    )


def branches(count: int, strokes: int) -> tuple[Machine, Chart]:
    """So many cylinders at once, each so many strokes out and back at its own pace; joined at the end."""
    plain = program(2 * count, count)
    assert plain.chart is not None
    homes = both(*(Signal(device=f"H{c}") for c in range(count)))
    steps, transitions = [Step(name="S0", initial=True)], []
    for c in range(count):
        for k in range(strokes):
            actions = (Action(output=f"SOL{c}"),) if k % 2 == 0 else ()
            steps.append(Step(name=f"B{c}_{k}", actions=actions))
            switch = Signal(device=f"{'EH'[k % 2]}{c}")
            ends = Transition(name=f"T{c}_{k}", sources=(f"B{c}_{k}",), targets=(f"B{c}_{k + 1}",), condition=switch)
            transitions.append(ends)
        steps.append(Step(name=f"B{c}_{strokes}"))
    firsts, lasts = (tuple(f"B{c}_{k}" for c in range(count)) for k in (0, strokes))
    begins = both(Rise(device="START"), homes)
    transitions.append(Transition(name="T0", sources=("S0",), targets=firsts, condition=begins))
    transitions.append(Transition(name="TE", sources=lasts, targets=("S0",), condition=Always()))
    return plain.machine, plain.chart.model_copy(
        update={
            "steps": tuple(steps),
            "transitions": tuple(transitions),
            "forcing": Forcing(condition=Signal(device="STOP")),
        }
    )


def stale(timers: int) -> tuple[Machine, Logic]:
    """A dwell circuit whose relay starts off-delay timers one after another, none of which anybody waits for."""
    machine = program(2, 1).machine
    lines = [f"timer TR{k}, off-delay {10 * k} s" for k in range(2, timers + 2)]
    text = (
        "\n".join(lines) + "\n" + _DWELL + "\n".join(f"rung {k + 2}: CR1, feeds TR{k}" for k in range(2, timers + 2))
    )
    return machine, circuit(text, machine)


def circuit(text: str, machine: Machine) -> Logic:
    """A rung list as a Logic of a machine."""
    reading = read(Source("bench", text), machine_devices(machine))
    assert reading.sound, reading.diagnostics
    return circuit_logic(reading.tree, machine)


def _line(what: str, search: Callable[[], Explored]) -> None:
    start = perf_counter()
    try:
        explored = search()
    except TooMany:
        print(f"{what:<58} {'too many ways through':<26} {1000 * (perf_counter() - start):>9,.1f} ms")
        return
    took = 1000 * (perf_counter() - start)
    covered = f"{explored.situations:,} situations, {explored.zones:,} zones"
    print(f"{what:<58} {explored.ending:<12} {covered:<34} {took:>9,.1f} ms")


def _parallel(count: int) -> None:
    """Branches side by side, by induction: the chart beside itself, its structured text, its one-hot chain."""
    machine, chart = branches(count, 4)
    driver = chart_logic(chart)
    start = perf_counter()
    _shown(f"{count} parallel branches, by induction", always_same(driver, driver, machine), start)
    understood = replace(program(2, 1), machine=machine, chart=chart)
    artefacts, _ = emit_all(understood, Options(anti_repeat=True))
    for artefact in (a for a in artefacts if a.implementation):
        chain = "one-hot" in artefact.name
        if chain or artefact.target == "structured-text":
            shadow, start = read_back(artefact, machine), perf_counter()
            shown = always_same(driver, shadow, machine, one_by_one=chain)
            _shown(f"{count} parallel branches, by induction, {artefact.name}", shown, start)


def _shown(what: str, shown: Shown | None, start: float) -> None:
    took = 1000 * (perf_counter() - start)
    covered = "" if shown is None else f"{shown.combinations:,} combinations in {shown.sets} sets"
    ending = f"{'not shown' if shown is None else 'alike':<12} {covered:<34}"
    print(f"{what:<58} {ending} {took:>9,.1f} ms")


def main() -> None:
    """Print how long each takes, a line each."""
    print("\nproof: how it grows (free operator)\n")
    for steps in (64, 128, 256):
        plain = program(steps, 8)
        assert plain.chart is not None
        artefacts, _ = emit_all(plain, Options())
        for artefact in (a for a in artefacts if a.implementation):
            shadow = read_back(artefact, plain.machine)
            careful = "step chain" in artefact.name  # with START held it may differ, and that is soon found
            world = World(careful=careful, no_jam=True, supplied=True)
            who = "careful" if careful else "free"
            pair = Product(chart_logic(plain.chart), shadow, plain.machine)
            _line(f"{steps} steps, 8 cylinders, {artefact.name}, {who}", partial(explore, pair, world))
    for count in (2, 4, 8):
        machine, chart = together(count)
        pair = Unbound(chart_logic(chart), chart_logic(chart), machine)
        _line(f"{count} cylinders together, whatever the inputs do", partial(explore, pair, World()))
    for count in (2, 3, 4, 5):
        machine, chart = together(count)
        pair = Product(chart_logic(chart), chart_logic(chart), machine)
        _line(f"{count} cylinders together, in the machine", partial(explore, pair, _FREE_HAND))
    for count in (1, 2, 3):
        machine, chart = branches(count, 4)
        pair = Product(chart_logic(chart), chart_logic(chart), machine)
        _line(f"{count} parallel branches of 4 strokes, in the machine", partial(explore, pair, _FREE_HAND))
    for count in range(2, 9):
        _parallel(count)
    for timers in (10, 50):
        machine, logic = stale(timers)
        pair = Product(logic, logic, machine)
        _line(f"a dwell with {timers} timers left running", partial(explore, pair, _FREE_HAND))


if __name__ == "__main__":
    main()
