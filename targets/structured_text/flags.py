"""A sequence told by a flag for each step: parallel work, stations side by side, work that is broken off.

First it is worked out which transitions clear, all of them by the steps as they stood, then every step takes its new
value: so all clear at one moment (IEC 60848:2013, evolution rules 2 to 5, from memory).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from compiler.chart import CountingKind, Step, Transition
from compiler.condition import Active, both
from targets.controller.aborting import Group, first_ones, groups, kept_back_by
from targets.controller.comment import comment
from targets.controller.page import Line, Marks, gathered, wrapped
from targets.controller.plan import STORED, Plan, expression
from targets.structured_text.page import Exit, Flags
from targets.structured_text.work import Station, branches, heading_for, span, stations

__all__ = ["flags"]

_MAIN = "Main line"


def flags(made: Plan, marks: Marks) -> Flags:
    """The transitions and steps of any chart that is not refused."""
    forcing = _forcing(made, marks)
    inset = 0 if forcing is None else 4
    known = groups(made.chart)
    transitions, steps = [], []
    for k, station in enumerate(stations(made.chart)):
        heading = ([Line("")] if k else []) + ([Line("", comment(station.heading))] if station.heading else [])
        transitions += heading + list(_transitions(made, station, known, marks))
        steps += heading + list(_steps(made, station, known, marks, inset))
    return Flags(
        transitions=tuple(transitions),
        before=tuple(Line(f"{before} := {made.active[name]};") for name, before in made.before.items()),
        forcing=forcing,
        inset=inset,
        steps=tuple(steps),
        stored=tuple(_stored(made)),
        counters=tuple(_counters(made)),
    )


# --- transitions ----------------------------------------------------------------------------------------------


def _transitions(made: Plan, station: Station, known: Sequence[Group], marks: Marks) -> Iterator[Line]:
    """Those that break off other work come first, since the others look at them."""
    breaking = [t for t in station.transitions if t.aborts]
    if breaking:
        yield Line("", "What breaks off other work. Of those that would at one moment, the first one does")
    for t in breaking:
        yield _transition(made, t, (made.clears[other.name] for other in first_ones(made.chart, t)), marks)
    for group in known:
        if group.members[0] in breaking:
            ways = " OR ".join(made.clears[t.name] for t in group.members)
            told = comment(f"breaks off {span(made.chart, group.steps)}")
            yield Line(wrapped(f"{made.aborted[group.steps]} := {ways};", 4), told)
    parallel = branches(made.chart)
    above = "" if breaking else _MAIN
    for t in (t for t in station.transitions if not t.aborts):
        heading = heading_for(t.sources, parallel)
        if heading != above:
            yield Line("", heading)
        above = heading
        whole, single = kept_back_by(t, known)
        names = (*(made.aborted[group.steps] for group in whole), *(made.clears[other.name] for other in single))
        yield _transition(made, t, names, marks)


def _transition(made: Plan, transition: Transition, kept_back: Iterable[str], marks: Marks) -> Line:
    ready = both(*(Active(step=name) for name in transition.sources), transition.condition)
    terms = [expression(made, ready), *_none_of(kept_back)]
    return Line(
        wrapped(f"{made.clears[transition.name]} := {' AND '.join(terms)};", 4),
        comment(": ".join(part for part in (_way(transition), transition.words.text) if part)),
        marks.mark(transition.words),
    )


def _way(transition: Transition) -> str:
    """From where to where a transition leads, in words."""
    starts = ", in parallel" if len(transition.targets) > 1 else ""
    return f"{_listed(transition.sources)} to {_listed(transition.targets)}{starts}"


def _listed(names: Collection[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _none_of(names: Iterable[str]) -> Iterator[str]:
    """Names as one term of an AND: none of them is true."""
    listed = list(names)
    if listed:
        yield f"NOT {listed[0]}" if len(listed) == 1 else f"NOT ({' OR '.join(listed)})"


# --- steps ----------------------------------------------------------------------------------------------------


def _forcing(made: Plan, marks: Marks) -> Exit | None:
    forcing = made.chart.forcing
    if forcing is None:
        return None
    held = set(forcing.steps) or {step.name for step in made.chart.steps if step.initial}
    on = [f"{name} := TRUE;" for step, name in made.active.items() if step in held]
    off = [f"{name} := FALSE;" for step, name in made.active.items() if step not in held]
    off += [f"{made.wires[output]}_stored := FALSE;" for output in made.stored]
    return Exit(
        "IF",
        wrapped(expression(made, forcing.condition), 12),
        (*gathered(on, 4), *gathered(off, 4)),
        comment(forcing.words.text),
        marks.mark(forcing.words),
    )


def _steps(made: Plan, station: Station, known: Sequence[Group], marks: Marks, inset: int) -> Iterator[Line]:
    parallel = branches(made.chart)
    above = _MAIN
    for step in station.steps:
        heading = heading_for((step.name,), parallel)
        if heading != above:
            yield Line("", heading)
        above = heading
        yield Line(wrapped(_equation(made, step, known), inset + 4), _told(made, step), marks.mark(step.words))


def _equation(made: Plan, step: Step, known: Sequence[Group]) -> str:
    """A step is active that is entered, or that was active and is not left."""
    chart, name = made.chart, made.active[step.name]
    entered = [made.clears[t.name] for t in chart.transitions if step.name in t.targets]
    breaking = [group for group in known if step.name in group.steps]
    told = {t.name for group in breaking for t in group.members}
    left = [made.clears[t.name] for t in chart.transitions if step.name in t.sources and t.name not in told]
    left += [made.aborted[group.steps] for group in breaking]
    stays = " AND ".join([name, *_none_of(left)])
    return f"{name} := {' OR '.join([*entered, f'({stays})' if entered and left else stays])};"


def _told(made: Plan, step: Step) -> str:
    waits = any(step.name in t.sources and len(t.sources) > 1 for t in made.chart.transitions)
    otherwise = "at rest" if step.initial else "waits for the other branches" if waits else ""
    what = f'fault "{step.fault}"' if step.fault else step.words.text or otherwise
    return comment(f"{step.name}: {what}" if what else step.name)


def _stored(made: Plan) -> Iterator[Line]:
    """What steps write as they become active or cease to be, in the order of the steps."""
    for step in made.chart.steps:
        now, before = made.active[step.name], made.before.get(step.name, "")
        kept = [(STORED[action.kind], action.output) for action in step.actions if action.kind in STORED]
        for on_entry, happens in ((True, f"{now} AND NOT {before}"), (False, f"{before} AND NOT {now}")):
            written = [
                f"{made.wires[output]}_stored := {value};"
                for (at_entry, value), output in kept
                if at_entry is on_entry
            ]
            if written:
                way = "becomes active" if on_entry else "is left"
                yield Line(f"IF {happens} THEN {' '.join(written)} END_IF;", comment(f"{step.name} {way}"))


def _counters(made: Plan) -> Iterator[Line]:
    """A counter is cleared before it counts, and stops at the greatest number that is asked of it."""
    for counter, name in made.counters.items():
        cleared = _entered(made, counter, CountingKind.CLEAR)
        counted = _entered(made, counter, CountingKind.COUNT)
        if cleared:
            yield Line(f"{wrapped(f'IF {cleared} THEN', 4)}\n    {name} := 0;\nEND_IF;")
        if counted:
            ready = f"({counted}) AND ({name} < {made.most[counter]})"
            yield Line(f"{wrapped(f'IF {ready} THEN', 4)}\n    {name} := {name} + 1;\nEND_IF;")


def _entered(made: Plan, counter: str, kind: CountingKind) -> str:
    """That a step which does this to a counter has just become active."""
    steps = [s.name for s in made.chart.steps if any((c.counter, c.kind) == (counter, kind) for c in s.counting)]
    tests = [f"{made.active[name]} AND NOT {made.before[name]}" for name in steps]
    return tests[0] if len(tests) == 1 else " OR ".join(f"({test})" for test in tests)
