"""Which names share a row of a chart of signals: steps of one station that follow one another, values of a number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.shape import shape_of
from compiler.simulation.traces import Trace

__all__ = ["Span", "deal", "shared_rows"]


@dataclass(frozen=True, slots=True)
class Span:
    """Something with a name that held from one moment to another. ``shown`` is the name as its row shows it."""

    name: str
    from_us: int
    to_us: int
    shown: str


def deal(spans: Iterable[Span], follows: Callable[[str, str], bool] = lambda _, __: True) -> list[list[Span]]:
    """Spans dealt into as few lanes as can be, none upon another; of the lanes that are free one whose last span
    leads to this one is taken first, so that a branch stays in its lane."""
    dealt: list[list[Span]] = []
    for span in sorted(spans, key=lambda s: (s.from_us, s.to_us)):
        free = [lane for lane in dealt if lane[-1].to_us <= span.from_us]
        before = [lane for lane in free if lane[-1].to_us == span.from_us and follows(lane[-1].name, span.name)]
        if free:
            (before or free)[0].append(span)
        else:
            dealt.append([span])
    return dealt


def shared_rows(
    inside: Sequence[Trace], end_us: int, chart: Chart | None
) -> tuple[list[tuple[str, list[Span]]], list[Trace]]:
    """Rows that names share, each with what it is called, and what has a row of its own. Steps share, and so do
    signals of which never two are on, and the values of a number ("count = 2")."""
    numbers: dict[str, list[Span]] = {}
    rest = []
    for trace in inside:
        name, _, value = trace.name.partition(" = ")
        if value:
            spans = trace.spans(end_us)
            numbers.setdefault(name, []).extend(Span(trace.name, *span, value) for span in spans)
        else:
            rest.append(trace)
    steps = [Span(t.name, *span, t.name) for t in rest for span in t.spans(end_us)]
    made = {t.name: t.spans(end_us) for t in rest}
    counted = [
        (f"{name} count" if name in made else name, _every(name, spans, made.get(name, []), end_us))
        for name, spans in numbers.items()
    ]
    if chart is not None and rest and {t.name for t in rest} <= {step.name for step in chart.steps}:
        return [*_stations(steps, chart), *counted], []
    if len(rest) > 1 and len(deal(steps)) == 1:
        return [("step", steps), *counted], []
    return counted, rest


def _every(name: str, spans: Sequence[Span], reached: Sequence[tuple[int, int]], end_us: int) -> list[Span]:
    """The values of a number without a gap. A counter is lit between nothing and its preset only: elsewhere its
    contacts tell that it has reached that, or it stands at 0."""
    known = [*spans, *(Span(f"{name} reached", *span, "reached") for span in reached)]
    found, at = [], 0
    for span in sorted(known, key=lambda s: s.from_us):
        if span.from_us > at:
            found.append(Span(f"{name} = 0", at, span.from_us, "0"))
        found.append(span)
        at = max(at, span.to_us)
    return [*found, Span(f"{name} = 0", at, end_us, "0")] if at < end_us else found


def _stations(steps: Sequence[Span], chart: Chart) -> list[tuple[str, list[Span]]]:
    """A row for every line of work of every station. What only remembers a press has one if anything was pressed."""
    # Of branches that are joined the first goes on.
    onward = {(t.sources[0], to) for t in chart.transitions for to in t.targets}
    memory = shape_of(chart).memory
    rows = []
    for station in _together(chart):
        own = [span for span in steps if span.name in station]
        if len(own) == 1 and own[0].name in memory:
            continue
        name = _named_alike(station)
        shown = [Span(s.name, s.from_us, s.to_us, s.name.removeprefix(f"{name}_") if name else s.name) for s in own]
        rows += [(name or "step", lane) for lane in deal(shown, lambda a, b: (a, b) in onward)]
    return rows


def _together(chart: Chart) -> list[frozenset[str]]:
    """The steps of each station: those that transitions connect, in the order of the chart."""
    station = {step.name: {step.name} for step in chart.steps}
    for t in chart.transitions:
        names = [*t.sources, *t.targets]
        joined = set().union(*(station[name] for name in names))
        for name in joined:
            station[name] = joined
    return [frozenset(s) for s in {id(s): s for s in station.values()}.values()]


def _named_alike(station: frozenset[str]) -> str:
    """What the names of all steps of a station begin with, up to an underline."""
    heads = {name.rpartition("_")[0] for name in station}
    return heads.pop() if len(heads) == 1 else ""
