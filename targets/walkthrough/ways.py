"""The other ways of a choice, each told from where it parts to where it joins, from a run that takes it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from compiler.chart import Transition
from compiler.walk.changes import Instant
from compiler.walk.course import Cleared, Passes, passes
from compiler.walk.record import Record
from compiler.walk.ways import Branch
from targets.walkthrough.moments import Teller
from targets.walkthrough.repeats import folded
from targets.walkthrough.scenes import Scenes
from targets.walkthrough.steps import Sequence, parts_of
from targets.walkthrough.told import Level, Passage, Section, Sentence
from targets.walkthrough.words import capital, listed, seconds

__all__ = ["parting", "way_sections"]


def way_sections(scenes: Scenes, level: Level) -> Iterator[Section]:
    """One for each way that the cycle did not take; ways for which no run was found are named at the end."""
    branches, missing = scenes.ways
    for branch in branches:
        yield _section(scenes, branch, level)
    if missing:
        said = dict.fromkeys(f"{capital(_if(scenes.sequence, way))} {_onward(scenes, way)}." for way in missing)
        yield Section(
            "Ways that are not told",
            (Passage(tuple(map(Sentence, said))),),
            "Of these no run was found that takes them, so none is told.",
        )


def parting(scenes: Scenes) -> dict[int, list[Sentence]]:
    """By moment of the cycle, what would have led it another way."""
    found: dict[int, list[str]] = {}
    for branch in scenes.ways[0]:
        if branch.parent.scenario == scenes.steps.scenario:
            found.setdefault(branch.instead_us, []).append(_if(scenes.sequence, branch.way, branch.instead))
    return {
        at_us: [Sentence(f"{capital(listed(ifs, 'or'))}, the cycle goes another way here, which is told below.")]
        for at_us, ifs in found.items()
    }


def _section(scenes: Scenes, branch: Branch, level: Level) -> Section:
    sequence = scenes.sequence
    run = scenes.taking(branch)
    title = f"{capital(_if(sequence, branch.way, branch.instead))} instead"
    whence = _whence(scenes, branch)
    at = seconds(_shown(scenes, branch, branch.parts_us))
    opening = f"The way parts {whence} at {at}, {_onward(scenes, branch.way)}"
    opening += f", the {_ordinal(branch.cycle)} time that it comes here." if branch.cycle > 1 else "."
    told = folded(_passages(scenes, branch, run, level), _repeats(scenes, branch))
    shown = (replace(p, at_us=None, timed=p.at_us is not None) for p in told)
    return Section(title, (*shown, *_joining(scenes, branch, level)), opening)


def _repeats(scenes: Scenes, branch: Branch) -> tuple[Passes, ...]:
    """The repeats that begin and end on the way, on the clock of the main cycle."""
    until_us = branch.run.cleared[-1].at_us if branch.joins is None else branch.joins.at_us
    return tuple(
        Passes(tuple(_shown(scenes, branch, us) for us in one.begun_us), _shown(scenes, branch, one.over_us))
        for one in passes(scenes.sequence.shape, branch.run)
        if branch.parts_us <= one.begun_us[0] and one.over_us <= until_us
    )


def _whence(scenes: Scenes, branch: Branch) -> str:
    parent = _parent(scenes, branch)
    if parent is None:
        return "from the cycle"
    return f"from the way that is told above ({_if(scenes.sequence, parent.way, parent.instead)})"


def _parent(scenes: Scenes, branch: Branch) -> Branch | None:
    """The branch that a branch parts from; None where that is the cycle."""
    return next((b for b in scenes.ways[0] if b.run.scenario == branch.parent.scenario), None)


def _passages(scenes: Scenes, branch: Branch, run: Record, level: Level) -> Iterator[Passage]:
    teller = Teller(scenes.machine, scenes.chart, by_rungs=run.circuit, pump_told=True)
    until = run.ended_us if branch.joins is None else branch.joins.at_us
    beside = _beside(scenes, branch) if len(scenes.sequence.shape.stations) > 1 else {}
    before: Instant | None = None
    for instant in run.instants:
        if branch.parts_us <= instant.at_us <= until:
            told = teller.full(instant) if level is Level.FULL else teller.short(instant)
            if level is Level.FULL and before is not None:
                told += tuple(teller.phase(before, instant))
            at_us = _shown(scenes, branch, instant.at_us)
            same = [s.text for s in told] == beside.get(at_us) and instant.at_us not in (branch.parts_us, until)
            if told and not same:
                yield Passage(told, at_us, seconds(at_us), see_us=_seen(scenes, branch, instant, at_us))
        before = instant


def _beside(scenes: Scenes, branch: Branch) -> dict[int, list[str]]:
    """What the cycle itself tells by moment, to leave out what other stations do just the same."""
    if branch.parent.scenario != scenes.steps.scenario:
        return {}
    teller = Teller(scenes.machine, scenes.chart, by_rungs=scenes.normal.circuit, pump_told=True)
    return {i.at_us: [s.text for s in teller.full(i)] for i in scenes.normal.instants}


def _shown(scenes: Scenes, branch: Branch, at_us: int) -> int:
    """A moment on the clock of the main cycle, as though that had gone this way when it came here."""
    shown = at_us - branch.parts_us + branch.instead_us
    parent = _parent(scenes, branch)
    return shown if parent is None else _shown(scenes, parent, shown)


def _seen(scenes: Scenes, branch: Branch, instant: Instant, at_us: int) -> int | None:
    """The moment of the cycle at which the way parts is in its chart as well."""
    first = instant.at_us == branch.parts_us and branch.parent.scenario == scenes.steps.scenario
    return at_us if first else None


def _joining(scenes: Scenes, branch: Branch, level: Level) -> Iterator[Passage]:
    """How a way comes back to the cycle, and from which moment on that goes on alike."""
    if branch.joins is None:
        yield Passage((Sentence("This way does not come back to the cycle."),))
        return
    sequence, targets = scenes.sequence, branch.joins.transition.targets
    if all(sequence.is_rest(name) for name in targets):
        if level is Level.SHORT:
            yield Passage((Sentence(f"With that {sequence.station(targets[0])} is at rest again."),))
        return
    names = listed(sequence.step(name) for name in targets)
    at_once = any(
        c.at_us == branch.joins.at_us and sequence.shape.rest & set(c.transition.targets)
        for c in branch.run.onward(branch.way)
    )
    met = [c.at_us for c in scenes.steps.cleared if set(c.transition.targets) & set(targets)]
    again = next((us for us in met if us >= branch.instead_us), met[0] if met else None)
    if again is None:
        yield Passage((Sentence(f"With that it comes back to {names}, and so on."),))
        return
    if not _goes_on_alike(scenes, branch, branch.joins, again):
        text = f"With that it comes back to {names}. From there it does not go on as the cycle does."
        yield Passage((Sentence(text),))
        return
    text = f"{names} and all that follows go as from {seconds(again)} on."
    if at_once:
        text = f"It ends as the cycle does at {seconds(again)}."
    yield Passage((Sentence(text),), None, "Back in the cycle", again)


def _goes_on_alike(scenes: Scenes, branch: Branch, joins: Cleared, again_us: int) -> bool:
    """Whether each choice that a way comes to behind ``joins`` goes as it does in the cycle from a moment on; but for
    the choice that it began with, where it may come round again."""
    begun, later = joins.transition.targets, branch.run.cleared[branch.run.cleared.index(joins) + 1 :]
    own = _taken(begun, later)
    cycle = _taken(begun, (c for c in scenes.steps.cleared if c.at_us >= again_us))
    return all(own[sources] == cycle[sources] for sources in own.keys() & cycle.keys() - {branch.way.sources})


def _taken(begun: Iterable[str], cleared: Iterable[Cleared]) -> dict[tuple[str, ...], Transition]:
    """The way first taken from each step that some steps lead to; what goes on beside them is left out."""
    found: dict[tuple[str, ...], Transition] = {}
    active = set(begun)
    for one in cleared:
        if active & set(one.transition.sources):
            active = active - set(one.transition.sources) | set(one.transition.targets)
            found.setdefault(one.transition.sources, one.transition)
    return found


# --- conditions -------------------------------------------------------------------------------------------------


def _if(sequence: Sequence, way: Transition, instead: Transition | None = None) -> str:
    """``if LID is made``: what makes the difference to the way that was taken, as far as there is one."""
    others = [t for t in sequence.shape.ways if t.sources == way.sources and t != way]
    beside = others if instead is None else [instead]
    shared = set.intersection(*(set(parts_of(t.condition)) for t in beside)) if beside else set()
    parts = [p for p in parts_of(way.condition) if p not in shared and not sequence.goes_without_saying(p)]
    said = parts or [p for p in parts_of(way.condition) if not sequence.goes_without_saying(p)]
    return f"if {sequence.condition(said)}"


def _onward(scenes: Scenes, way: Transition) -> str:
    """Where a way begins: ``after “hold 4 s” (S2)``."""
    sequence = scenes.sequence
    if all(sequence.is_rest(name) for name in way.sources):
        return "as the cycle begins"
    return f"after {listed(sequence.step(name) for name in way.sources)}"


def _ordinal(number: int) -> str:
    tens, ones = divmod(number, 10)
    end = "th" if tens % 10 == 1 else {1: "st", 2: "nd", 3: "rd"}.get(ones, "th")
    return f"{number}{end}"
