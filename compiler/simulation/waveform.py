"""Signals of a run as a small chart of Unicode characters, readable without colour.

An input or output is drawn as an outline (``▁▁╱▔▔╲▁▁``), a change too short for its column as a spike (``│``), a
rod by the height it has reached (``▁▂▄▆█``), and so is the time gone by on a timer. Where two logics ran, an output
is drawn thick (``▀▀`` on, ``▄▄`` off) while it is on in one and off in the other. A long quiet time is cut short
where it would squeeze out the rest, and the cut is marked ``≈`` in every row.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from compiler.chart import Chart
from compiler.machine import Machine
from compiler.simulation.lanes import Span, shared_rows
from compiler.simulation.run import Change, Clock, Role, Run, Side
from compiler.simulation.traces import Rod, rods, traces

__all__ = ["Scale", "round_step", "scale_of", "short", "ticks", "waveform"]

_LABEL = 12
_HEIGHTS = "▁▂▃▄▅▆▇█"
_CUT = "≈"
_THICK = "thick where they differ"


@dataclass(frozen=True, slots=True)
class Scale:
    """Which column a moment falls in. ``knots`` are (moment, place) pairs, straight in between; places run from 0
    to ``columns``. ``cut`` is a stretch of time that is left out: all of it falls at one place."""

    columns: int
    knots: tuple[tuple[int, float], ...]
    cut: tuple[int, int] | None = None

    def place(self, at_us: int) -> float:
        """Where a moment stands, in columns from the left."""
        k = min(max(bisect_right(self.knots, at_us, key=lambda knot: knot[0]) - 1, 0), len(self.knots) - 2)
        (from_us, left), (to_us, right) = self.knots[k], self.knots[k + 1]
        return left + (at_us - from_us) * (right - left) / (to_us - from_us)

    def column(self, at_us: int) -> int:
        """The column a moment falls in."""
        return min(self.columns - 1, max(0, int(self.place(at_us))))

    def moment(self, place: float) -> int:
        """The moment at a place: the other way round."""
        for (from_us, left), (to_us, right) in pairwise(self.knots):
            if place <= right:
                return from_us + round((place - left) * (to_us - from_us) / (right - left))
        return self.knots[-1][0]

    @property
    def cut_column(self) -> int | None:
        """The column the mark of the cut stands in."""
        return None if self.cut is None else self.column(self.cut[0])


def scale_of(run: Run, columns: int) -> Scale:
    """A straight scale. Of one quiet time longer than half of all as much is shown as fills a third of the width, a
    quarter of that before what is left out: seconds are equally long before and after."""
    end = max(1, run.ended_us)
    moments = sorted(
        {0, end} | {c.at_us for c in run.changes if c.at_us < end} | {m.at_us for m in run.moves if m.at_us < end}
    )
    from_us, to_us = max(pairwise(moments), key=lambda gap: gap[1] - gap[0])
    gap, rest = to_us - from_us, end - (to_us - from_us)
    shown = rest // 2  # a third of the width against two thirds for the rest
    if gap <= rest or shown < 4:
        return Scale(columns, ((0, 0.0), (end, float(columns))))
    cut = from_us + shown // 4, to_us - (shown - shown // 4)
    at = columns * cut[0] / (rest + shown)
    knots = ((0, 0.0), (cut[0], at), (cut[1], at), (end, float(columns)))
    return Scale(columns, knots, cut)


def waveform(run: Run, machine: Machine, *, chart: Chart | None = None, width: int = 80) -> list[str]:
    """The chart, line by line, no line longer than ``width``: inputs, rods that moved, insides and outputs, the time
    below. With ``chart`` its steps share rows, those of each station for itself.

    Where two logics ran, each has its own insides and outputs, and the first difference is pointed at.
    """
    scale = scale_of(run, max(8, width - _LABEL - 1))
    lines = _rows(run, Side.WORLD, (Role.SUPPLY, Role.JAM, Role.STUCK, Role.INPUT), scale)
    moved = {move.actuator for move in run.moves}
    lines += [_row(rod.name, _path(rod, scale)) for rod in rods(run, machine) if rod.name in moved]
    for side, name in ((Side.DRIVER, run.driver), (Side.SHADOW, run.shadow)):
        if not name:
            continue
        if run.shadow:
            lines.append(f"{name}:"[:width])
        lines += _inside(run, side, scale, chart) + _timers(run, side, scale) + _outputs(run, side, scale)
    lines += _axis(run, scale)
    if run.difference is not None:
        lines.append(_row("", _pointed(scale.column(run.difference.at_us), scale.columns)))
    return [line.rstrip() for line in lines]


def short(name: str, letters: int) -> str:
    """A name cut in its middle to so many letters: names that differ mostly do so at one of their ends."""
    if len(name) <= letters:
        return name
    return f"{name[: letters // 2]}…{name[len(name) - (letters - 1) // 2 :]}"[-letters:]


def _row(label: str, drawing: str) -> str:
    return f"{short(label, _LABEL):>{_LABEL}} {drawing}"


def _edges(run: Run, side: Side, role: Role) -> dict[str, list[Change]]:
    signals: dict[str, list[Change]] = {}
    for change in run.changes:
        if change.side is side and change.role is role:
            signals.setdefault(change.signal, []).append(change)
    return signals


def _rows(run: Run, side: Side, roles: Sequence[Role], scale: Scale) -> list[str]:
    rows = []
    for role in roles:
        for name, changes in _edges(run, side, role).items():
            if role is Role.SUPPLY and len(changes) == 1 and changes[0].on:
                continue  # a supply that is always there says nothing
            label = {Role.JAM: f"{name} jam", Role.STUCK: f"{name} stuck"}.get(role, name)
            rows.append(_row(label, _outline(changes, scale)))
    return rows


def _outputs(run: Run, side: Side, scale: Scale) -> list[str]:
    """The outputs of a logic; of two logics both show the same ones, and where they differ."""
    if not run.shadow:
        return _rows(run, side, (Role.OUTPUT,), scale)
    both = {each: _edges(run, each, Role.OUTPUT) for each in (Side.DRIVER, Side.SHADOW)}
    rows = []
    for name in dict.fromkeys((*both[Side.DRIVER], *both[Side.SHADOW])):
        thick = _differing(both[Side.DRIVER].get(name, []), both[Side.SHADOW].get(name, []), run, scale)
        rows.append(_row(name, _outline(both[side].get(name, []), scale, thick)))
    return rows


def _differing(one: Sequence[Change], other: Sequence[Change], run: Run, scale: Scale) -> frozenset[int]:
    """The columns in which an output is on in one logic and off in the other for longer than no time."""
    on = {Side.DRIVER: False, Side.SHADOW: False}
    changes = sorted((*one, *other), key=lambda change: change.at_us)
    columns: set[int] = set()
    for k, change in enumerate(changes):
        on[change.side] = change.on
        until = changes[k + 1].at_us if k + 1 < len(changes) else run.ended_us
        if len(set(on.values())) == 2 and until > change.at_us:
            columns.update(range(scale.column(change.at_us), scale.column(until - 1) + 1))
    return frozenset(columns)


def _pointed(column: int, columns: int) -> str:
    """The first difference pointed at, with what the thick lines mean beside it where there is room."""
    if column + len(_THICK) + 2 <= columns:
        return " " * column + "▲ " + _THICK
    return f"{_THICK:>{column - 1}} ▲" if len(_THICK) < column else " " * column + "▲"


def _timers(run: Run, side: Side, scale: Scale) -> list[str]:
    """The timers that ever ran out, each by how much of its time is gone."""
    rows = []
    for name, preset in dict.fromkeys((c.timer, c.preset_us) for c in run.clocks if c.side is side and c.ran_out):
        clocks = [c for c in run.clocks if (c.side, c.timer, c.preset_us) == (side, name, preset)]
        label = name if " " in name else f"{name} elapsed"
        rows.append(_row(label if len(label) <= _LABEL else label.removeprefix("time "), _ramps(clocks, scale)))
    return rows


def _ramps(clocks: Sequence[Clock], scale: Scale) -> str:
    cells = [_HEIGHTS[0]] * scale.columns
    for clock in clocks:
        first, last = scale.column(clock.from_us), scale.column(max(clock.from_us, clock.to_us - 1))
        for column in range(first, last + 1):
            until = clock.to_us if column == last else min(clock.to_us, scale.moment(column + 1))
            gone = max(0, until - clock.from_us) / clock.preset_us
            cells[column] = _HEIGHTS[min(7, max(0, round(gone * 7)))]
    return _with_cut(cells, scale)


def _outline(changes: Sequence[Change], scale: Scale, thick: frozenset[int] = frozenset()) -> str:
    cells: list[str] = []
    on, k = False, 0
    for column in range(scale.columns):
        before, edges = on, 0
        while k < len(changes) and scale.column(changes[k].at_us) <= column:
            edges += changes[k].at_us > 0  # what is on from the start has no edge
            on = changes[k].on
            before = on if changes[k].at_us == 0 else before
            k += 1
        flat = ("▀" if on else "▄") if column in thick else "▔" if on else "▁"
        cells.append(flat if not edges else "│" if before == on else "╱" if on else "╲")
    return _with_cut(cells, scale)


def _path(rod: Rod, scale: Scale) -> str:
    levels = [rod.at(scale.moment(column + 0.5)) / rod.actuator.stroke_um for column in range(scale.columns)]
    return _with_cut([_HEIGHTS[min(7, max(0, round(level * 7)))] for level in levels], scale)


def _with_cut(cells: list[str], scale: Scale) -> str:
    if scale.cut_column is not None:
        cells[scale.cut_column] = _CUT
    return "".join(cells)


def _inside(run: Run, side: Side, scale: Scale, chart: Chart | None) -> list[str]:
    """Steps of which one at a time is active share a row with their names, and so do the values of a number; relays
    have a row each."""
    inside = [t for t in traces(run) if t.side is side and t.role is Role.INSIDE]
    shared, single = shared_rows(inside, max(1, run.ended_us), chart)
    rows = [_row(title, _segments(_entries(lane, run.ended_us), scale)) for title, lane in shared]
    edges = _edges(run, side, Role.INSIDE)
    return [*rows, *(_row(trace.name, _outline(edges[trace.name], scale)) for trace in single)]


def _entries(lane: Sequence[Span], end_us: int) -> list[tuple[int, str]]:
    """What is written in a row from each moment on: nothing where nothing holds."""
    begins = {span.from_us: span.shown for span in lane}
    ends = {span.to_us: "" for span in lane if span.to_us < end_us}
    return sorted((ends | begins).items())


def _segments(entries: Sequence[tuple[int, str]], scale: Scale) -> str:
    """What holds from each moment on, written out as far as there is room before the next."""
    cells = [" "] * scale.columns
    starts = [scale.column(at_us) for at_us, _ in entries] + [scale.columns]
    for (_, words), start, stop in zip(entries, starts, starts[1:], strict=False):
        if start < stop:
            cells[start] = "│" if start else " "
            for offset, letter in enumerate(words[: max(0, stop - start - 1)]):
                cells[start + 1 + offset] = letter
    return "".join(cells)


def _axis(run: Run, scale: Scale) -> list[str]:
    """A line with a tick at round seconds, and the seconds below it."""
    per_column = (scale.knots[1][0] - scale.knots[0][0]) / max(1e-9, scale.knots[1][1] - scale.knots[0][1])
    step = round_step(per_column * 9)
    line, labels = ["─"] * scale.columns, [" "] * (scale.columns + _LABEL)
    free = 0
    for at_us in ticks(run.ended_us, step, scale):
        column = scale.column(at_us)
        text = f"{at_us / 1_000_000:g}"
        line[column] = "┴" if column else "└"
        if column >= free and column + len(text) + 2 <= scale.columns:
            labels[column : column + len(text)] = text
            free = column + len(text) + 1
    drawn = _with_cut(line, scale)
    return [_row("", drawn), _row("", ("".join(labels)[: scale.columns - 1]) + "s")]


def ticks(end_us: int, step: int, scale: Scale) -> list[int]:
    """Every whole ``step`` of a run, in microseconds, but for those in a time that is cut short."""
    if scale.cut is None:
        return list(range(0, end_us + 1, step))
    first, last = scale.cut
    after = -(-last // step) * step
    return [*range(0, first + 1, step), *range(after, end_us + 1, step)]


def round_step(at_least_us: float) -> int:
    """The least of 1, 2, 5, 10, 20, 50 ... milliseconds that is no less."""
    step = 1_000
    while True:
        for times in (1, 2, 5):
            if step * times >= at_least_us:
                return step * times
        step *= 10
