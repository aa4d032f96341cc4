"""What an arrangement does not know: switches it never looks at, and what becomes of a jam, a held START and a lost
supply. Each is read from its contacts or conditions, or tried out in a run of its own."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.machine import End, Medium
from compiler.walk.changes import Instant, Stroke
from compiler.walk.record import Record
from targets.walkthrough.scenes import Scenes
from targets.walkthrough.stops import phase_words
from targets.walkthrough.told import Passage, Section, Sentence
from targets.walkthrough.words import listed

__all__ = ["unknown_section"]


def unknown_section(scenes: Scenes) -> Section:
    """Everything that could be found."""
    found = [*_unread(scenes), *_jams(scenes), *_held(scenes), *_supply(scenes), *_pump(scenes)]
    return Section("What it does not know", (Passage(tuple(found)),))


# --- what it reads ----------------------------------------------------------------------------------------------


def _unread(scenes: Scenes) -> Iterator[Sentence]:
    reads = set(getattr(scenes.logic, "reads", scenes.logic.inputs))
    stands = "stands in no rung" if scenes.normal.circuit else "is in no condition"
    seen: set[tuple[str, End]] = set()
    for actuator in scenes.machine.actuators:
        switches = [(s.name, s.toward) for s in actuator.limit_switches]
        for name, toward in [*switches, *((s.name, s.toward) for s in actuator.pressure_switches)]:
            if name in reads:
                seen.add((actuator.name, toward))
            else:
                yield Sentence(f"{name} of {actuator.name} {stands}: what it sees is never looked at.")
    moved = {stroke.actuator for instant in scenes.normal.instants for stroke in instant.strokes}
    for actuator in scenes.machine.actuators:
        blind = [end for end in (End.END, End.HOME) if (actuator.name, end) not in seen]
        if actuator.name in moved and blind:
            where = listed(["at its end" if end is End.END else "home" for end in blind], "or")
            yield Sentence(f"It never checks that {actuator.name} is {where}.")


# --- what it does with faults -----------------------------------------------------------------------------------


def _jams(scenes: Scenes) -> Iterator[Sentence]:
    """Each stroke of the cycle, jammed as it has just begun: does what follows wait?"""
    normal = scenes.normal
    for at_us, stroke in _strokes(scenes):
        run = scenes.jammed(stroke.actuator, at_us + 1)
        way = "out" if stroke.way > 0 else "back"
        after = [i for i in run.instants if i.at_us > at_us + 1]
        theirs = [_signature(i) for i in normal.instants if i.at_us > at_us + 1 and i.outputs]
        ours = [_signature(i) for i in after if i.outputs]
        jam = f"If {stroke.actuator} jams on its way {way}, "
        if run.loop:
            yield Sentence(f"{jam}{listed(run.loop)} never settles.")
        elif _shows_fault(scenes, after):
            yield Sentence(f"{jam}a fault ends the cycle, in the end with {_lasting(run)}.")
        elif not theirs:
            yield Sentence(f"{jam}nothing shows it: no load was to change after that stroke.")
        elif ours == theirs:
            yield Sentence(f"{jam}all goes on as if it had come through.")
        elif not ours:
            yield Sentence(f"{jam}everything waits, with {_lasting(run)}.")
        else:
            yield Sentence(f"{jam}not all that follows comes, and the end is with {_lasting(run)}.")


def _strokes(scenes: Scenes) -> Iterator[tuple[int, Stroke]]:
    met = set()
    for instant in scenes.normal.instants:
        for stroke in instant.strokes:
            if stroke.way and (stroke.actuator, stroke.way) not in met:
                met.add((stroke.actuator, stroke.way))
                yield instant.at_us, stroke


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
    once = [_signature(i) for i in scenes.normal.instants if i.outputs]
    held = [_signature(i) for i in run.instants if i.outputs]
    if run.loop:
        yield Sentence(f"While {start} is held, {listed(run.loop)} never settle.")
    elif len(held) > len(once):
        yield Sentence(f"With {start} held it begins again after the end of the cycle: it asks for no new press.")
    elif held == once:
        yield Sentence(f"With {start} held it makes one cycle only.")
    else:
        yield Sentence(f"With {start} held the cycle goes another way.")


def _supply(scenes: Scenes) -> Iterator[Sentence]:
    """The control supply lost in each phase: what comes on by itself on its return?"""
    again: dict[tuple[str, ...], list[str]] = {}
    for phase in scenes.phases()[:_MOST]:
        run = scenes.supply_lost(phase.middle_us)
        back = next(i for i in run.instants if i.at_us > phase.middle_us and any(w.kind == "supply" for w in i.world))
        on = tuple(o.signal for i in run.instants if i.at_us >= back.at_us for o in i.outputs if o.on)
        again.setdefault(tuple(dict.fromkeys(on)), []).append(phase_words(scenes, phase))
    for on, phases in again.items():
        if not on and len(again) == 1:
            yield Sentence("A lost control supply is forgotten: when it is back, nothing comes on by itself.")
        elif not on:
            yield Sentence(f"After a lost control supply nothing comes on by itself in {listed(phases)}.")
        else:
            verb = "comes" if len(on) == 1 else "come"
            yield Sentence(f"After a lost control supply {listed(on)} {verb} on by itself in {listed(phases)}.")


_MOST = 24


def _pump(scenes: Scenes) -> Iterator[Sentence]:
    oil = any(a.medium is Medium.HYDRAULIC for a in scenes.machine.actuators)
    if oil and scenes.machine.pump is None:
        yield Sentence("The program does not say what pump feeds the machine.")
