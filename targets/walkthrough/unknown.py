"""What an arrangement does not know: switches it never looks at, and what becomes of a jam, a held START and a lost
supply. Each is read from its contacts or conditions, or tried out in a run of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.machine import Actuator, End, Machine, Medium
from compiler.proof.supply import with_supply
from compiler.walk.changes import InputChange, Instant, Stroke
from compiler.walk.record import Record
from grammar.rungs.tree import Kind
from targets.walkthrough.coils import coil_verb
from targets.walkthrough.rest import is_unlike
from targets.walkthrough.scenes import Scenes
from targets.walkthrough.stops import phase_words
from targets.walkthrough.told import Passage, Section, Sentence
from targets.walkthrough.words import capital, listed

__all__ = ["unknown_section"]


def unknown_section(scenes: Scenes) -> Section:
    """Everything that could be found."""
    found = [*_unread(scenes), *_jams(scenes), *_held(scenes), *_supply(scenes), *_pump(scenes)]
    return Section("What it does not know", (Passage(tuple(found)),))


# --- what it reads ----------------------------------------------------------------------------------------------


def _unread(scenes: Scenes) -> Iterator[Sentence]:
    """Switches that no contact or condition looks at, and the ends of strokes that nothing sees."""
    reads = set(getattr(scenes.logic, "reads", scenes.logic.inputs))
    stands = "stands in no rung" if scenes.normal.circuit else "is in no condition"
    moved = {stroke.actuator for instant in scenes.normal.instants for stroke in instant.strokes}
    for actuator in scenes.machine.actuators:
        told: set[str] = set()
        unseen: list[str] = []
        for end in (End.END, End.HOME) if actuator.name in moved else ():
            there = _switches(actuator, end)
            if reads & set(there):
                continue
            told.update(there)
            where = "at its end" if end is End.END else "home"
            if there:
                yield Sentence(f"{listed(there)} {stands}: it never checks that {actuator.name} is {where}.")
            else:
                unseen.append(where)
        if unseen:
            name, places = actuator.name, listed(unseen, "or")
            yield Sentence(f"No switch sees {name} {places}: nothing checks that {name} has arrived.")
        names = [s.name for s in actuator.limit_switches] + [s.name for s in actuator.pressure_switches]
        for name in names:
            if name not in reads and name not in told:
                yield Sentence(f"{name} of {actuator.name} {stands}.")


def _switches(actuator: Actuator, end: End) -> list[str]:
    """The switches that see a rod at an end of its stroke."""
    place = actuator.stroke_um if end is End.END else 0
    limits = [s.name for s in actuator.limit_switches if s.toward is end and s.at_um == place]
    return limits + [s.name for s in actuator.pressure_switches if s.toward is end]


# --- what it does with faults -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What follows where a stroke jams. ``beside`` is how loads then stand, told of each where it is known."""

    words: str
    beside: str = ""


def _jams(scenes: Scenes) -> Iterator[Sentence]:
    """Each stroke of the cycle, jammed half-way; strokes that come to the same are told together. Where not all
    strokes of a rod to one end come to the same, each is told by what is under way."""
    tried = [(stroke, steps, _jammed(scenes, stroke, at_us)) for at_us, steps, stroke in _strokes(scenes)]
    comes_to: dict[tuple[str, int], set[_Outcome]] = {}
    for stroke, _, outcome in tried:
        comes_to.setdefault((stroke.actuator, stroke.way), set()).add(outcome)
    outcomes: dict[str, dict[str, dict[str, dict[str, None]]]] = {}
    for stroke, steps, outcome in tried:
        alike = len(comes_to[stroke.actuator, stroke.way]) == 1
        way = ("out" if stroke.way > 0 else "back") + ("" if alike else f" in {scenes.sequence.phase(steps)}")
        ways = outcomes.setdefault(outcome.words, {}).setdefault(outcome.beside, {})
        ways.setdefault(stroke.actuator, {})[way] = None
    for words, by_loads in outcomes.items():
        if len(by_loads) == 1:
            ((beside, ways),) = by_loads.items()
            yield Sentence(f"If {_jamming(ways)}, {words}{f', with {beside}' if beside else ''}.")
        else:
            each = "; ".join(f"if {_jamming(ways)}, with {beside}" for beside, ways in by_loads.items())
            yield Sentence(f"{capital(words)} {each}.")
    if tried and scenes.ways[0]:
        yield Sentence("Strokes on other ways than that of the cycle were not jammed.")


def _jamming(ways: dict[str, dict[str, None]]) -> str:
    together: dict[str, list[str]] = {}
    for name, found in ways.items():
        together.setdefault(" or ".join(found), []).append(name)
    return listed((f"{listed(names, 'or')} jams on its way {way}" for way, names in together.items()), "or")


def _jammed(scenes: Scenes, stroke: Stroke, at_us: int) -> _Outcome:
    """What follows where a stroke jams: does what would come next wait for it?"""
    run = scenes.jammed(stroke.actuator, at_us)
    after = [i for i in run.instants if i.at_us > at_us]
    theirs = [_signature(i) for i in scenes.normal.instants if i.at_us > at_us and i.outputs]
    ours = [_signature(i) for i in after if i.outputs]
    if run.loop:
        return _Outcome(f"{listed(run.loop)} never settle{'s' if len(run.loop) == 1 else ''}")
    if _shows_fault(scenes, after):
        return _Outcome("a fault ends the cycle", _lasting(run))
    ends = is_unlike(scenes.machine, scenes.resting, run.instants[-1], by_rungs=run.circuit, places=False)
    never = ", but the cycle does not end" if ends else ""
    fooled = [c.signal for i in after for c in i.inputs if c.on and _presses(scenes.machine, c, stroke)]
    so = f"{listed(fooled)} is made all the same, by the pressure, and " if fooled else ""
    if not theirs:
        return _Outcome(f"{so}nothing shows it: no load was to change after that stroke{never}")
    if ours == theirs:
        return _Outcome(f"{so}all goes on as if it had come through{never}")
    if not ours:
        return _Outcome("everything waits", _lasting(run))
    if ours == theirs[: len(ours)]:
        return _Outcome(f"{so}it goes on as if it had come through, and then waits", _lasting(run))
    return _Outcome(f"{so}only what does not wait for it goes on, until all waits", _lasting(run))


def _presses(machine: Machine, change: InputChange, stroke: Stroke) -> bool:
    """Whether a pressure switch of a jammed cylinder is made."""
    switches = machine.actuator(stroke.actuator).pressure_switches
    return change.by == stroke.actuator and any(switch.name == change.signal for switch in switches)


def _strokes(scenes: Scenes) -> Iterator[tuple[int, frozenset[str], Stroke]]:
    """The strokes of the cycle, each way of a rod once in the same steps: the middle of each, those steps, and it."""
    found = [(instant, stroke) for instant in scenes.normal.instants for stroke in instant.strokes]
    met = set()
    for k, (begun, stroke) in enumerate(found):
        at_us, steps = begun.at_us, begun.active - scenes.sequence.shape.memory
        if stroke.way and (stroke.actuator, stroke.way, steps) not in met:
            met.add((stroke.actuator, stroke.way, steps))
            over = next((i.at_us for i, later in found[k + 1 :] if later.actuator == stroke.actuator), at_us + 2)
            yield at_us + max(1, (over - at_us) // 2), steps, stroke


def _shows_fault(scenes: Scenes, after: list[Instant]) -> bool:
    """Whether a step of a fault is reached that the logic itself is in: what is on is what that step says."""
    faults = {step.name for step in scenes.chart.steps if step.fault}
    return any(i.active & faults and not i.parted for i in after)


def _signature(instant: Instant) -> tuple[tuple[str, bool], ...]:
    return tuple((o.signal, o.on) for o in instant.outputs)


def _lasting(run: Record) -> str:
    last = run.instants[-1]
    on = sorted(last.on)
    return f"{listed(on)} on" if on else "every load off"


# --- what it does with START and the supply ---------------------------------------------------------------------


def _held(scenes: Scenes) -> Iterator[Sentence]:
    start = scenes.machine.start
    if start is None or not any(e.device == start and e.on for e in scenes.normal.scenario.events):
        return
    run = scenes.held(start)
    last = max((i.at_us for i in scenes.normal.instants if i.outputs), default=0)
    once, held = _until(scenes.normal, last), _until(run, last)
    after = [i for i in run.instants if i.at_us >= last]
    if run.loop:
        yield Sentence(f"While {start} is held, {listed(run.loop)} never settle{'s' if len(run.loop) == 1 else ''}.")
    elif once != held:
        yield Sentence(f"With {start} held the cycle goes another way.")
    elif any(o.on for i in after for o in i.outputs) or _begun_again(scenes, run, start):
        yield Sentence(f"With {start} held it begins again after the end of the cycle: it asks for no new press.")
    else:
        yield Sentence(f"With {start} held it makes one cycle only{_let_go(scenes, start)}.")


def _begun_again(scenes: Scenes, run: Record, start: str) -> bool:
    """Whether another cycle is under way at the end though no load shows it: one that waits for something first. In a
    circuit a relay is in that START brought in; otherwise a step tells."""
    end = run.instants[-1]
    if not run.circuit:
        return not end.parted and not scenes.sequence.shape.resting(end.active)
    pressed = (i for i in scenes.normal.instants if any(c.signal == start and c.on for c in i.inputs))
    brought = {c.signal for i in pressed for one in i.coils for c in one if c.after and c.device.kind is Kind.RELAY}
    return bool(brought & set(end.lit) - set(scenes.resting.lit))


def _let_go(scenes: Scenes, start: str) -> str:
    """What makes ready for another cycle as a held START is let go, if anything does."""
    run, at_us = scenes.held_and_let_go(start)
    released = next((i for i in run.instants if i.at_us == at_us), None)
    if released is None or not run.circuit:
        return ": it asks for a new press"
    ready = (c for one in released.coils for c in one if c.after or c.device.kind is Kind.TIMER)
    doing = listed(f"{c.signal} {coil_verb(c)}" for c in ready)
    return f": {doing} only when {start} is let go" if doing else ": it asks for a new press"


def _until(run: Record, at_us: int) -> list[tuple[tuple[str, bool], ...]]:
    return [_signature(i) for i in run.instants if i.at_us < at_us and i.outputs]


def _supply(scenes: Scenes) -> Iterator[Sentence]:
    """The control supply lost in each phase: what comes on by itself on its return?

    A run shows what came on in it. Where a cycle may begin without a press, another run, in which what it waits for
    stays so, brings on more: then that is said, and never that nothing comes on."""
    begins = with_supply(scenes.chart, scenes.machine).begins
    if begins:
        yield Sentence(
            f"With the supply back a cycle begins by itself, with no press, when {', or when '.join(begins)}."
        )
    again: dict[tuple[str, ...], list[str]] = {}
    for phase in scenes.phases()[:_MOST]:
        run = scenes.supply_lost(phase.middle_us)
        back = next(i for i in run.instants if i.at_us > phase.middle_us and any(w.kind == "supply" for w in i.world))
        on = tuple(o.signal for i in run.instants if i.at_us >= back.at_us for o in i.outputs if o.on)
        again.setdefault(tuple(dict.fromkeys(on)), []).append(phase_words(scenes, phase))
    for on, phases in again.items():
        where = f"If the control supply is lost in {' or in '.join(dict.fromkeys(phases))}"
        if not on and begins:
            continue
        if not on and len(again) == 1:
            yield Sentence("A lost control supply is forgotten: when it is back, nothing comes on by itself.")
        elif not on:
            yield Sentence(f"{where}, nothing comes on by itself when it is back.")
        else:
            come = "comes on by itself" if len(on) == 1 else "come on by themselves"
            yield Sentence(f"{where}, {listed(on)} {come} when it is back.")


_MOST = 24


def _pump(scenes: Scenes) -> Iterator[Sentence]:
    oil = any(a.medium is Medium.HYDRAULIC for a in scenes.machine.actuators)
    if oil and scenes.machine.pump is None:
        yield Sentence("The program does not say what pump feeds the machine.")
