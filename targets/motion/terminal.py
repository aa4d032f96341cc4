"""Motion charts for the terminal: Unicode, no line longer than so many columns, readable without colour.

A rod is drawn by the height it has reached, a motor by the way it runs; below each rod stand its switches where they
make, and below a chart of steps what gave the signal to set out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

from compiler.machine import Machine
from compiler.simulation.causes import Causes
from compiler.simulation.rest import until_rest
from compiler.simulation.run import Run
from compiler.simulation.traces import Rod, Trace, rods, traces
from compiler.simulation.waveform import round_step, scale_of, short, ticks
from targets.motion.band import passed, switches
from targets.motion.page import seconds, titled
from targets.motion.step import Steps, outside_words, steps_of
from targets.motion.turning import turnings
from targets.motion.why import commands

__all__ = ["motion_step_text", "motion_time_text"]

_LABEL = 12
_HEIGHTS = "▁▂▃▄▅▆▇█"
_WAYS = {1: "▶", 0: "─", -1: "◀"}
_NOTE = "▁ is home, █ the end of the stroke; steps are equally wide whatever time they take, which stands below."
_NARROWEST, _WIDEST = 6, 12  # columns of a step


def motion_step_text(run: Run, machine: Machine, *, why: Causes | None = None, width: int = 80) -> str:
    """The displacement-step chart; a long one goes on below itself."""
    steps, signals = steps_of(run, machine), traces(run)
    lines = wrap(": ".join(titled(run, "displacement-step chart")), width)
    if not steps.at_us:
        return "\n".join([*lines, "", "Nothing moves in this run."]) + "\n"
    told: dict[int, list[str]] = {}
    for command in commands(run, [rod for rod, _ in steps.rods], signals, why):
        words = told.setdefault(command.at_us, [])
        words += [each for each in command.of or (outside_words(command),) if each not in words]
    room, count = max(2 * _NARROWEST, width - _LABEL - 1), len(steps.at_us) - 1
    most = max(1, min(count, room // _NARROWEST - 1))  # the last boundary has a name, too
    wide = min(_WIDEST, (room - _NARROWEST) // most)
    for first in range(0, max(1, count), most):
        lines += ["", *_block(steps, signals, told, range(first, min(first + most, count) + 1), wide, room)]
    lines += [
        "",
        *wrap("0 ▁ is home, █ the end of the stroke; steps are equally wide whatever time they take.", width),
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def motion_time_text(run: Run, machine: Machine, *, width: int = 80) -> str:
    """The displacement-time chart, until all is at rest."""
    run = until_rest(run)
    scale = scale_of(run, max(8, width - _LABEL - 1))
    signals = traces(run)
    lines = [*wrap(": ".join(titled(run, "displacement-time chart")), width), ""]
    middles = [scale.moment(column + 0.5) for column in range(scale.columns)]
    for rod in rods(run, machine):
        drawn = "".join(_height(rod.at(at_us) / rod.actuator.stroke_um) for at_us in middles)
        lines.append(_row(rod.name, _torn(drawn, scale.cut_column)))
        marks = [
            (scale.column(at), trace.name)
            for trace in switches(rod, signals)
            for at, on in passed(trace, signals)
            if on
        ]
        lines.append(_row("", _placed(marks, scale.columns)))
    for motor in turnings(run, machine):
        lines.append(_row(motor.name, _torn("".join(_WAYS[motor.at(at)] for at in middles), scale.cut_column)))
    step = round_step(max(1, run.ended_us) / scale.columns * 9)
    marks = [(scale.column(at), f"{at / 1_000_000:g}") for at in ticks(run.ended_us, step, scale)]
    lines.append(_row("s", _placed(marks, scale.columns)))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _block(
    steps: Steps, signals: Sequence[Trace], told: dict[int, list[str]], boundaries: range, wide: int, columns: int
) -> Iterator[str]:
    """Some steps one beside the other, from a boundary to a boundary."""
    inner = boundaries[:-1]
    last = len(steps.at_us) - 1
    again = all(at[0] == at[-1] for _, at in steps.rods)
    names = [f"{k + 1} = 1" if k == last and again else str(k + 1) for k in boundaries]
    yield _row("step", _placed([(n * wide, name) for n, name in enumerate(names)], columns))
    for rod, at in steps.rods:
        drawn = "".join(_height(at[k] + (at[k + 1] - at[k]) * (c + 0.5) / wide) for k in inner for c in range(wide))
        yield _row(rod.name, drawn)
        yield _row("", _placed(list(_makes(rod, signals, steps, boundaries, wide)), columns))
    for motor, ways in steps.motors:
        yield _row(motor.name, "".join(_WAYS[ways[k]] * wide for k in inner))
    causes = [(n * wide, ", ".join(told[steps.at_us[k]])) for n, k in enumerate(inner) if steps.at_us[k] in told]
    for n, marks in enumerate(_dealt(causes) or [[]]):
        yield _row("" if n else "because of", _placed(marks, columns))
    times = [(n * wide, seconds(steps.at_us[k + 1] - steps.at_us[k])) for n, k in enumerate(inner)]
    yield _row("lasts", _placed(times, columns))


def _makes(
    rod: Rod, signals: Sequence[Trace], steps: Steps, boundaries: range, wide: int
) -> Iterator[tuple[int, str]]:
    """Where the switches of a rod make: in the column of their moment within its step."""
    for trace in switches(rod, signals):
        for at_us, on in passed(trace, signals):
            for n, k in enumerate(boundaries[:-1]):
                from_us, to_us = steps.at_us[k], steps.at_us[k + 1]
                if on and from_us < at_us <= to_us:
                    share = (at_us - from_us) / (to_us - from_us)
                    yield n * wide + min(wide, round(share * wide)), trace.name


def _dealt(marks: Sequence[tuple[int, str]]) -> list[list[tuple[int, str]]]:
    """Words dealt into as few rows as let each stand at its column, clear of the next."""
    dealt: list[list[tuple[int, str]]] = []
    for column, words in sorted(marks):
        free = (row for row in dealt if row[-1][0] + len(row[-1][1]) < column)
        row = next(free, None)
        if row is None:
            dealt.append([(column, words)])
        else:
            row.append((column, words))
    return dealt


def _placed(marks: Sequence[tuple[int, str]], columns: int) -> str:
    """Words at their columns, a little further right where they would lie on one another, further left at the edge;
    cut where there is no room."""
    cells = ""
    for column, words in sorted(marks):
        wanted = min(column, max(0, columns - len(words)))
        start = wanted if wanted > len(cells) or not cells else len(cells) + 1
        if start < columns:
            cells = cells.ljust(start) + words
    return cells[:columns] if len(cells) <= columns else cells[: columns - 1] + "…"


def _height(level: float) -> str:
    return _HEIGHTS[min(7, max(0, round(level * 7)))]


def _torn(cells: str, column: int | None) -> str:
    return cells if column is None else f"{cells[:column]}≈{cells[column + 1 :]}"


def _row(label: str, drawing: str) -> str:
    return f"{short(label, _LABEL):>{_LABEL}} {drawing}"
