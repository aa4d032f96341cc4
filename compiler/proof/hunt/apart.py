"""Whether one thing happens after another in a run, as in the proof, which has no two at one instant."""

from __future__ import annotations

from compiler.logic import Bits
from compiler.machine import Machine
from compiler.simulation.bench import Bench
from compiler.simulation.run import Event, EventKind

__all__ = ["FAILURES", "Apart", "owners"]

FAILURES = (EventKind.JAM, EventKind.STUCK_MADE, EventKind.STUCK_OPEN)
"""What may go wrong once in a run."""


def owners(machine: Machine) -> dict[str, str]:
    """The actuator of each limit and pressure switch."""
    return {s.name: a.name for a in machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}


class Apart:
    """Give ``look`` every instant of a run; ``kept`` says whether never more than one thing happened at any: what is
    done, a rod that passes something, times that run out, which may do so together."""

    def __init__(self, machine: Machine) -> None:
        self.kept = True
        self._machine, self._own = machine, owners(machine)
        self._before: Bits | None = None

    def look(self, bench: Bench, events: tuple[Event, ...]) -> None:
        """An instant is over."""
        if self._before is not None:
            changed = {
                self._own[device.name]
                for device, was, now in zip(self._machine.inputs, self._before, bench.actuated, strict=True)
                if was is not now and device.name in self._own
            }
            failed = any(event.kind in FAILURES for event in events)
            happened = len(events) + (0 if failed else len(changed)) + any(map(bool, bench.expired))
            self.kept = self.kept and happened <= 1
        self._before = bench.actuated

    def twin(self) -> Apart:
        """The same, to look ahead with."""
        other = Apart(self._machine)
        other.kept, other._before = self.kept, self._before
        return other
