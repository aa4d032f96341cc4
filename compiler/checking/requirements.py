"""Watch a run for what must never be, and for what must follow in time.

A requirement is judged at instants: where something happens, and where one of its own times runs out between. What
holds at an instant counts only if time then goes on: a time that is only just reached has not lasted, and what comes
at the very moment a time is over still comes within it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from compiler.chart import Chart, Requirement, Response
from compiler.condition import Elapsed, Sustained
from compiler.simulation.bench import Bench
from compiler.simulation.holds import holds
from compiler.simulation.run import Event
from compiler.times import Timed, counts_from, times_in

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


@dataclass(frozen=True, slots=True)
class _Instant:
    """What there is to see at one instant; ``since_us`` tells since when the conditions of times have held."""

    now_us: int
    on: frozenset[str]
    steps: frozenset[str]
    rises: frozenset[str] = frozenset()
    since_us: dict[Timed, int] = field(default_factory=dict)

    def signal(self, device: str) -> bool:
        return device in self.on

    def rise(self, device: str) -> bool:
        return device in self.rises

    def active(self, step: str) -> bool:
        return step in self.steps

    def elapsed(self, step: str, time_us: int) -> bool:
        return self._past(Elapsed(step=step, time_us=time_us))

    def sustained(self, condition: Sustained) -> bool:
        return self._past(condition)

    def counted(self, counter: str, at_least: int) -> bool:
        raise ValueError(f"{counter} counts inside the sequence, where no requirement can see it")

    def _past(self, timed: Timed) -> bool:
        return timed in self.since_us and self.now_us - self.since_us[timed] >= timed.time_us


class RequirementWatch:
    """Give ``look`` to a run, and ``judge`` its end; ``broken`` then holds the first moment each requirement was
    broken. While the supply is off nothing is judged, and all that was remembered is lost."""

    def __init__(self, chart: Chart) -> None:
        self.broken: dict[str, int] = {}
        self._requirements = chart.requirements
        self._timed = times_in(c for r in chart.requirements for c in r.conditions)
        self._last: _Instant | None = None
        self._breaking: tuple[str, ...] = ()
        self._since: dict[Timed, int] = {}
        self._caused: set[str] = set()  # responses whose cause held at the last instant
        self._owed: dict[str, int] = {}  # responses whose effect is still to come, and since when

    def look(self, bench: Bench, events: tuple[Event, ...]) -> None:
        """Let time run on to what has just happened, and judge that."""
        self.judge(bench.now_us)
        if not bench.supply:
            self._forget()
            return
        actuated = {i.name for i, bit in zip(bench.machine.inputs, bench.actuated, strict=True) if bit}
        on, last = frozenset(actuated | set(bench.on(0))), self._last
        # What is actuated as the supply comes on has no rise.
        rises = frozenset() if last is None else frozenset(actuated - last.on)
        self._come_to(_Instant(bench.now_us, on, frozenset(bench.lit(0)), rises))

    def judge(self, until_us: int) -> None:
        """Let time run on until ``until_us``, nothing happening but that times run out."""
        while (last := self._last) is not None and last.now_us < until_us:
            for name in self._breaking:
                self.broken.setdefault(name, last.now_us)
            self._breaking = ()
            due = min((at for at in self._dues() if at > last.now_us), default=until_us)
            if due >= until_us:
                return
            self._come_to(replace(last, now_us=due, rises=frozenset()))

    def _forget(self) -> None:
        self._last, self._breaking = None, ()
        self._since.clear()
        self._caused.clear()
        self._owed.clear()

    def _dues(self) -> Iterator[int]:
        """When times run out."""
        yield from (since + timed.time_us for timed, since in self._since.items())
        for requirement in self._requirements:
            if isinstance(requirement, Response) and requirement.name in self._owed:
                yield self._owed[requirement.name] + requirement.within_us

    def _come_to(self, instant: _Instant) -> None:
        now = replace(instant, since_us=self._since)
        for timed in self._timed:
            if holds(counts_from(timed), now):
                self._since.setdefault(timed, now.now_us)
            else:
                self._since.pop(timed, None)
        self._last = now
        self._breaking = tuple(r.name for r in self._requirements if self._breaks(r, now))

    def _breaks(self, requirement: Requirement | Response, now: _Instant) -> bool:
        lasting = replace(now, rises=frozenset())  # an edge does not last
        match requirement:
            case Requirement(never=never):
                return holds(never, lasting)
            case Response(name=name, whenever=cause, then=effect):
                comes = holds(cause, now) and name not in self._caused
                self._caused.discard(name)
                if holds(cause, lasting):
                    self._caused.add(name)
                if holds(effect, now):
                    self._owed.pop(name, None)
                elif comes:
                    self._owed.setdefault(name, now.now_us)
                return name in self._owed and now.now_us - self._owed[name] >= requirement.within_us
