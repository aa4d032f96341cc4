"""The steps of an SFC with the ways on from them, part by part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from compiler.chart import ActionKind, Step
from targets.controller.comment import comment
from targets.controller.page import Line, Marks, wrapped
from targets.controller.plan import Plan
from targets.sfc.net import Kind, Net, Way
from targets.sfc.plan import Layout, condition_text

__all__ = ["parts"]


def parts(made: Net, laid: Layout, marks: Marks) -> Iterator[tuple[str, tuple[Line, ...]]]:
    """Every part with its heading. Each step is followed by the plain ways that leave it; a way that leaves several
    stands behind the last of them. What breaks off and what STOP does stands at the end of its part."""
    for steps, ways in made.parts:
        heading = comment(
            f"{_span(laid, steps)}, side by side with the others" if len(made.parts) > 1 else "The chart"
        )
        yield heading, tuple(_part(laid, steps, ways, marks))


def _span(laid: Layout, steps: Sequence[Step]) -> str:
    names = [laid.steps[step.name] for step in steps]
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


def _part(laid: Layout, steps: Sequence[Step], ways: Sequence[Way], marks: Marks) -> Iterator[Line]:
    place = {step.name: k for k, step in enumerate(steps)}
    known = {kind: [way for way in ways if way.kind is kind] for kind in Kind}
    leaving: dict[str, list[Way]] = {}
    for way in known[Kind.PLAIN]:
        leaving.setdefault(max(way.sources, key=lambda name: place[name]), []).append(way)
    for step in steps:
        yield _step(laid, step, marks)
        for way in leaving.get(step.name, ()):
            told = way.words in (steps[place[name]].words for name in way.sources)
            yield _way(laid, way, marks, said="" if told else way.words.text)
    for name, group in groupby(known[Kind.BREAKING], key=lambda way: way.name):
        several = list(group)
        yield Line("", comment(f"{name}, for all that it may break off: {several[0].words.text or 'a fault'}"))
        yield from (_way(laid, way, marks) for way in several)
    if known[Kind.FORCING]:
        yield Line("", comment(known[Kind.FORCING][0].words.text or "Ahead of all else"))
        yield from (_way(laid, way, marks) for way in (*known[Kind.FORCING], *known[Kind.JOINING]))


def _step(laid: Layout, step: Step, marks: Marks) -> Line:
    word = "INITIAL_STEP" if step.initial else "STEP"
    associations = "".join(f"{one}; " for one in _associations(laid, step))
    what = f'fault "{step.fault}"' if step.fault else step.words.text or ("at rest" if step.initial else "")
    text = wrapped(f"{word} {laid.steps[step.name]}: {associations}END_STEP", 4)
    return Line(text, comment(what), marks.mark(step.words))


def _associations(laid: Layout, step: Step) -> Iterator[str]:
    made: Plan = laid.made
    driven = [a.output for a in step.actions if a.kind is ActionKind.CONTINUOUS and a.output in laid.direct]
    for output in dict.fromkeys(driven):
        yield f"{made.commanded.get(output, made.wires[output])}(N)"
    if step.name in laid.begins:
        yield f"{laid.begins[step.name]}(P1)"
    if step.name in laid.ends:
        yield f"{laid.ends[step.name]}(P0)"


def _way(laid: Layout, way: Way, marks: Marks, *, said: str = "") -> Line:
    name = f" {laid.transitions[way.name]}" if way.kind is Kind.PLAIN else ""
    rank = f" (PRIORITY := {way.priority})" if way.priority else ""
    condition = laid.stop if way.kind is Kind.FORCING else condition_text(laid, way.condition, way.sources)
    if way.unless_forced:
        compound = " OR " in condition or " AND " in condition
        condition = f"({condition}) AND NOT {laid.stop}" if compound else f"{condition} AND NOT {laid.stop}"
    ends = f"FROM {_listed(laid, way.sources)} TO {_listed(laid, way.targets)}"
    text = wrapped(f"TRANSITION{name}{rank} {ends} := {condition}; END_TRANSITION", 8)
    indented = "\n".join(f"    {line}" for line in text.split("\n"))
    return Line(indented, comment(said), marks.mark(way.words))


def _listed(laid: Layout, names: Sequence[str]) -> str:
    listed = ", ".join(laid.steps[name] for name in names)
    return listed if len(names) == 1 else f"({listed})"
