"""Watch a run for what must never hold."""

from __future__ import annotations

from dataclasses import dataclass, field

from compiler.chart import Chart
from compiler.condition import Condition, Elapsed, Sustained, walk
from compiler.simulation.bench import Bench
from compiler.simulation.holds import holds
from compiler.simulation.run import Event

__all__ = ["Broken", "RequirementWatch"]


@dataclass(frozen=True, slots=True)
class Broken:
    """A requirement that the machine, driven by the sequence, did not keep: its name, when, and in which scenario."""

    requirement: str
    at_us: int
    scenario: str

    @property
    def line(self) -> str:
        """When it was broken, and in which run."""
        return f"broken at {self.at_us / 1_000_000:.3f} s ({self.scenario})"


@dataclass(slots=True)
class _Moment:
    """One lasting situation, from ``since_us`` on; ``now_us`` is the moment within it that is looked at."""

    since_us: int
    now_us: int
    on: frozenset[str]
    steps: frozenset[str]
    entered_us: dict[str, int]
    true_since_us: dict[Sustained, int] = field(default_factory=dict)

    def signal(self, device: str) -> bool:
        return device in self.on

    def rise(self, device: str) -> bool:
        return False  # an edge does not last

    def active(self, step: str) -> bool:
        return step in self.steps

    def elapsed(self, step: str, time_us: int) -> bool:
        return self._past(self.entered_us.get(step, self.since_us), time_us)

    def sustained(self, condition: Sustained) -> bool:
        since = self.true_since_us.get(condition)
        return since is not None and self._past(since, condition.time_us)

    def runs_out(self, condition: Condition, until_us: int) -> list[int]:
        """The moments within the situation, up to ``until_us``, at which times in a condition run out."""
        found: set[int] = set()
        for part in walk(condition):
            match part:
                case Sustained(time_us=time) if part in self.true_since_us:
                    found.add(self.true_since_us[part] + time)
                case Elapsed(step=step, time_us=time) if step in self.entered_us:
                    found.add(self.entered_us[step] + time)
                case _:
                    pass
        return sorted(at_us for at_us in found if self.since_us < at_us < until_us)

    def _past(self, since_us: int, time_us: int) -> bool:
        # At the end of a situation a time that is only then reached has not lasted in it.
        gone = self.now_us - since_us
        return gone > time_us or (gone == time_us and self.now_us == self.since_us)


class RequirementWatch:
    """Give ``look`` to a run; ``broken`` then holds the first moment each requirement was broken.

    A situation is looked at where it begins, and wherever a time runs out inside it.
    """

    def __init__(self, chart: Chart) -> None:
        self.broken: dict[str, int] = {}
        self._chart = chart
        self._last: _Moment | None = None
        self._lasting = tuple(
            part for r in chart.requirements for part in walk(r.never) if isinstance(part, Sustained)
        )

    def look(self, bench: Bench, events: tuple[Event, ...]) -> None:
        """Judge the situation that has just ended, and begin the next."""
        self.judge(bench.now_us)
        last = self._last
        inputs = (i.name for i, bit in zip(bench.machine.inputs, bench.actuated, strict=True) if bit)
        steps = frozenset(bench.lit(0))
        entered = {} if last is None else last.entered_us
        moment = _Moment(
            bench.now_us,
            bench.now_us,
            frozenset(inputs) | frozenset(bench.on(0)),
            steps,
            {s: entered[s] if last and s in last.steps else bench.now_us for s in steps},
        )
        for part in self._lasting:
            if holds(part.of, moment):
                since = None if last is None else last.true_since_us.get(part)
                moment.true_since_us[part] = bench.now_us if since is None else since
        self._last = moment

    def judge(self, until_us: int) -> None:
        """Judge the last situation, which lasts until ``until_us``; call it once more at the end of a run."""
        moment = self._last
        if moment is None or until_us <= moment.since_us:
            return
        for requirement in self._chart.requirements:
            for from_us in (moment.since_us, *moment.runs_out(requirement.never, until_us)):
                # A time has lasted only when it is longer than it was to be.
                moment.now_us = from_us if from_us == moment.since_us else from_us + 1
                if holds(requirement.never, moment):
                    self.broken.setdefault(requirement.name, from_us)
