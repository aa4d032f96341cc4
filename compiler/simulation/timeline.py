"""A run told on the terminal: what happened when, in words, and a small chart of its signals."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from textwrap import wrap

from compiler.chart import Chart
from compiler.machine import InputKind, Machine
from compiler.simulation.rest import until_rest
from compiler.simulation.run import Change, Outcome, Role, Run, Side
from compiler.simulation.waveform import waveform

__all__ = ["timeline", "told"]

_INDENT = " " * 13
_FEW = 3
_INPUT_WORDS = {
    InputKind.PUSHBUTTON: ("pressed", "let go"),
    InputKind.SELECTOR: ("on", "off"),
    InputKind.SENSOR: ("made", "let go"),
    InputKind.LIMIT_SWITCH: ("made", "let go"),
    InputKind.PRESSURE_SWITCH: ("made", "let go"),
}


def timeline(run: Run, machine: Machine, *, chart: Chart | None = None, width: int = 80) -> str:
    """The run as text, no line longer than ``width`` columns (40 or more): a heading, what happened, and the chart
    until all is at rest.

    With ``chart``, steps are told with the words they came from.
    """
    title = run.machine or "machine"
    beside = f" beside {run.shadow}" if run.shadow else ""
    heading = wrap(f"{title}: {run.scenario.name} ({run.driver}{beside})", width, break_long_words=True)
    drawn = waveform(until_rest(run), machine, chart=chart, width=width)
    parts = [heading, told(run, machine, chart=chart, width=width), drawn]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def told(run: Run, machine: Machine, *, chart: Chart | None = None, width: int = 80) -> list[str]:
    """One line for each instant: what the world did and which time was over, what that changed inside, and what was
    switched. Of what comes after a difference the first few: the two then go different ways."""
    lines: list[str] = []
    words = _Words(run, machine, chart)
    over = _over(run)
    more = 0
    for at_us, group in groupby(run.changes, key=lambda change: change.at_us):
        changes = list(group)
        world, *rest = words.parts(changes)
        parts = [[*world, *over.get(at_us, ())], *rest]
        phrases = [phrase for part in parts if (phrase := ", ".join(part))]
        if run.difference is not None and at_us > run.difference.at_us:
            more += bool(phrases)
        if phrases and more <= _FEW:
            lines += _wrapped(at_us, " → ".join(phrases), width)
        if run.difference is not None and run.difference.at_us == at_us:
            lines += _wrapped(None, f"▲ {_difference(run)}", width)
    if more > _FEW:
        lines += _wrapped(None, f"and so on: {more - _FEW} more", width)
    return lines + _wrapped(run.ended_us, _ending(run), width)


def _over(run: Run) -> dict[int, list[str]]:
    """What is said of the times that run out, by the moment: those of two logics once if they are called alike."""
    over: dict[int, list[str]] = {}
    for clock in run.clocks:
        said = f"{clock.timer}: {clock.preset_us / 1_000_000:g} s over"
        if clock.ran_out and said not in over.setdefault(clock.to_us, []):
            over[clock.to_us].append(said)
    return over


def _wrapped(at_us: int | None, text: str, width: int) -> list[str]:
    time = _INDENT if at_us is None else f"{at_us / 1_000_000:>9.3f} s  "
    return wrap(text, width, initial_indent=time, subsequent_indent=_INDENT + "  ", break_on_hyphens=False)


def _difference(run: Run) -> str:
    difference = run.difference
    assert difference is not None
    if difference.loop:
        return f"{run.shadow} never settles: {', '.join(difference.loop)}"
    has, other = ("on", "off") if difference.shadow_on else ("off", "on")
    return f"they differ: {difference.output} is {has} in {run.shadow}, {other} in {run.driver}"


def _ending(run: Run) -> str:
    match run.outcome:
        case Outcome.COMPLETED | Outcome.DIFFERENCE:
            return "end of the run"
        case Outcome.CHATTERING:
            return f"{run.driver} never settles: {', '.join(run.loop)}"
        case Outcome.TOO_MANY_EVENTS:
            return "given up: too much happens in too little time"


class _Words:
    """The words for changes: what a device is decides how its change is told."""

    def __init__(self, run: Run, machine: Machine, chart: Chart | None) -> None:
        self.kinds = {i.name: i.kind for i in machine.inputs}
        self.steps = {} if chart is None else {step.name: step.words.text or step.fault for step in chart.steps}
        self.shadow = run.shadow
        self.jams = {(m.actuator, m.at_us): m.position_um for m in run.moves if m.way == 0}

    def parts(self, changes: list[Change]) -> Iterator[list[str]]:
        """The world; inside the driver; its outputs; then the shadow's insides and outputs."""
        yield [self._world(c) for c in changes if c.side is Side.WORLD and not self._always(c)]
        yield [self._inside(c) for c in changes if c.side is Side.DRIVER and c.role is Role.INSIDE and self._told(c)]
        outputs = [c for c in changes if c.role is Role.OUTPUT]
        driver = [(c.signal, c.on) for c in outputs if c.side is Side.DRIVER]
        yield [f"{name} {_on(on)}" for name, on in driver]
        alone = [c for c in outputs if c.side is Side.SHADOW and (c.signal, c.on) not in driver]
        yield [f"{c.signal} {_on(c.on)} in {self.shadow}" for c in alone]

    def _always(self, change: Change) -> bool:
        return change.role is Role.SUPPLY and change.at_us == 0 and change.on

    def _told(self, change: Change) -> bool:
        """A step that ends is told by the one that begins, and so is a value."""
        return change.on or not (change.signal in self.steps or _is_value(change))

    def _world(self, change: Change) -> str:
        match change.role:
            case Role.SUPPLY:
                return "supply back" if change.on else "supply lost"
            case Role.JAM:
                at = self.jams.get((change.signal, change.at_us))
                place = "" if at is None else f" at {at / 1000:g} mm"
                return f"{change.signal} jams{place}" if change.on else f"{change.signal} free again"
            case Role.STUCK:
                return f"{change.signal} sticks" if change.on else f"{change.signal} works again"
            case _:
                yes, no = _INPUT_WORDS[self.kinds[change.signal]]
                return f"{change.signal} {yes if change.on else no}"

    def _inside(self, change: Change) -> str:
        if _is_value(change):
            return change.signal
        if change.signal not in self.steps:
            return f"{change.signal} {_on(change.on)}"
        # The time limit of a step is long to say and shows when it matters: its fault is a step of its own.
        words = " ".join(self.steps[change.signal].split()).split(", within ")[0]
        return f"{change.signal} “{words}”" if words else f"{change.signal}"


def _is_value(change: Change) -> bool:
    """Whether it is a number that comes to a value: "count = 2"."""
    return " = " in change.signal


def _on(on: bool) -> str:
    return "on" if on else "off"
