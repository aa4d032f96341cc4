"""The causes of a run inside a relay circuit, contact by contact: this contact made that coil pick up, that coil's
contact switched this load. What ``compiler.simulation.causes`` finds by trying leads from inputs straight to all that
follows from them; this is the way between."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.causes import Cause, Causes
from compiler.simulation.run import Role, Run, Side
from compiler.walk.changes import Instant, TerminalChange
from compiler.walk.record import circuit_of, record

__all__ = ["by_contacts"]


def by_contacts(why: Causes, run: Run, machine: Machine, driver: Logic) -> Causes:
    """The same causes, those of the driver by its contacts where it is a relay circuit. ``driver`` is the logic that
    the run was made with. Raises KeyError as ``record``."""
    if circuit_of(driver) is None:
        return why
    following = _Following(run, machine)
    told = record(machine, driver, run.scenario)
    found = [c for instant in told.instants if 0 < instant.at_us <= run.ended_us for c in following.of(instant)]
    others = [cause for cause in why.causes if cause.side is not Side.DRIVER]
    causes = sorted(dict.fromkeys((*found, *others)), key=lambda cause: cause.at_us)
    return replace(why, causes=tuple(causes), contacts=True)


@dataclass(frozen=True, slots=True)
class _Source:
    """What a change is due to: an input, a timer (``timer``) or a coil (``coil``)."""

    name: str
    timer: bool = False
    coil: bool = False


class _Following:
    """What is known of a run as its instants are followed."""

    def __init__(self, run: Run, machine: Machine) -> None:
        self._shown: dict[tuple[int, str], list[str]] = {}  # what shows of a coil that changed, what is on last
        for c in sorted((c for c in run.changes if c.side is Side.DRIVER), key=lambda c: c.on):
            if c.role is Role.INSIDE:
                self._shown.setdefault((c.at_us, c.signal.partition(" = ")[0]), []).append(c.signal)
        self._began = {(c.from_us, c.timer) for c in run.clocks if c.side is Side.DRIVER}
        self._inputs = {device.name.casefold(): device.name for device in machine.inputs}

    def of(self, instant: Instant) -> Iterator[Cause]:
        """The causes of one instant: of coils round by round, then of loads. A coil that picks up and drops out
        again in one instant shows nowhere: what made it move stands for it."""
        at_us = instant.at_us
        behind: dict[str, tuple[_Source, ...]] = {}
        for change in (change for one in instant.coils for change in one):
            name = change.signal
            sources = tuple(self._sources(change.terminals, instant, behind))
            behind[name] = sources
            own = (_Source(name, timer=True),) if change.expired else ()
            for signal in self._shown.get((at_us, name), ()):
                yield from self._causes(at_us, (*own, *sources), (Role.INSIDE, signal, False))
            if (at_us, name) in self._began:
                yield from self._causes(at_us, sources, (Role.INSIDE, name, True))
        for output in instant.outputs:
            terminals = () if output.terminal is None else (output.terminal,)
            sources = tuple(self._sources(terminals, instant, behind))
            yield from self._causes(at_us, sources, (Role.OUTPUT, output.signal, False))

    @staticmethod
    def _causes(at_us: int, sources: Iterable[_Source], effect: tuple[Role, str, bool]) -> Iterator[Cause]:
        for source in sources:
            yield Cause(at_us, Side.DRIVER, source.name, source.timer, *effect, coil=source.coil)

    def _sources(
        self, terminals: Iterable[TerminalChange], instant: Instant, behind: dict[str, tuple[_Source, ...]]
    ) -> Iterator[_Source]:
        """The contacts that completed or opened the rungs of these terminals."""
        for contact in (contact for terminal in terminals for contact in terminal.cause.contacts):
            name = contact.name.text
            if name.casefold() in self._inputs:
                yield _Source(self._inputs[name.casefold()])
            elif name in instant.expired or (instant.at_us, name) in self._began:
                yield _Source(name, timer=True)
            elif (instant.at_us, name) in self._shown:
                yield _Source(self._shown[instant.at_us, name][-1], coil=True)
            else:
                yield from behind.get(name, ())
