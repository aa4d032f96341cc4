"""What led to what in a run, as far as a chart shows it: signal to signal, solenoid to rod, rod to switch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.simulation.causes import Causes
from compiler.simulation.run import Move, Role, Run, Side
from compiler.simulation.traces import Rod, Trace
from targets.motion.band import passed, switches

__all__ = ["Command", "Lead", "Place", "commands", "leads", "said"]


@dataclass(frozen=True, slots=True)
class Place:
    """One row of a chart: a signal, the clock of a timer (``clock``), or a rod (``rod``)."""

    name: str
    side: Side = Side.WORLD
    role: Role = Role.INPUT
    clock: bool = False
    rod: bool = False


@dataclass(frozen=True, slots=True)
class Lead:
    """At this moment, ``of`` brought ``to`` about."""

    at_us: int
    of: Place
    to: Place


def leads(run: Run, moving: Sequence[Rod], signals: Sequence[Trace], why: Causes | None) -> tuple[Lead, ...]:
    """Everything that led to something, in order of time. Without ``why``, what changes inside a logic is taken to
    come from every input that changed at that instant."""
    found = [
        *(_at_once(run) if why is None else _known(why)),
        *_driven(run, moving),
        *_seen(moving, signals),
        *_stuck(signals),
    ]
    return tuple(sorted(found, key=lambda lead: lead.at_us))


def said(why: Causes | None) -> str:
    """What the arrows of a chart stand for, in a sentence."""
    if why is None:
        return (
            "Arrows lead from what changed to all that changed at the same instant: which of it was the cause was "
            "not tried."
        )
    how = (
        "through its contacts: the coil that picked up or dropped out, the load that was switched"
        if why.contacts
        else "without it, that would not have come"
    )
    return (
        f"An arrow leads from what changed (the dot) to what that brought about ({how}). From a solenoid to a rod, "
        "and from a rod to its switch, it follows the valve and the place of the switch."
    )


def _known(why: Causes) -> Iterator[Lead]:
    for c in why.causes:
        of = Place(c.of, c.side, Role.INSIDE, clock=c.timer) if c.timer or c.coil else Place(c.of)
        yield Lead(c.at_us, of, Place(c.signal, c.side, c.role, clock=c.clock))


def _at_once(run: Run) -> Iterator[Lead]:
    inputs = [c for c in run.changes if c.role is Role.INPUT and c.at_us > 0]
    for change in run.changes:
        if change.side is not Side.WORLD:
            for cause in inputs:
                if cause.at_us == change.at_us:
                    yield Lead(change.at_us, Place(cause.signal), Place(change.signal, change.side, change.role))


def _driven(run: Run, moving: Sequence[Rod]) -> Iterator[Lead]:
    """A rod that sets out as a solenoid of its valve is switched."""
    valves = {rod.name: rod.actuator.valve.solenoids for rod in moving}
    for change in run.changes:
        if change.side is Side.DRIVER and change.role is Role.OUTPUT:
            for move in run.moves:
                if move.at_us == change.at_us and change.signal in valves.get(move.actuator, ()):
                    yield Lead(
                        move.at_us, Place(change.signal, Side.DRIVER, Role.OUTPUT), Place(move.actuator, rod=True)
                    )


def _seen(moving: Sequence[Rod], signals: Sequence[Trace]) -> Iterator[Lead]:
    """A switch that makes, or lets go, as the rod passes it."""
    for rod in moving:
        for trace in switches(rod, signals):
            for at_us, _ in passed(trace, signals):
                yield Lead(at_us, Place(rod.name, rod=True), Place(trace.name))


def _stuck(signals: Sequence[Trace]) -> Iterator[Lead]:
    """A switch that makes or lets go as it gets stuck or works again."""
    turns = {t.name: {at_us for at_us, _ in t.edges} for t in signals if t.role is Role.INPUT}
    for trace in signals:
        if trace.role is Role.STUCK:
            for at_us, _ in trace.edges:
                if at_us > 0 and at_us in turns.get(trace.name, ()):
                    yield Lead(at_us, Place(trace.name, Side.WORLD, Role.STUCK), Place(trace.name))


def _unsupplied(run: Run) -> Iterator[Lead]:
    """All that drops out as the supply is lost."""
    lost = {(c.at_us, c.signal) for c in run.changes if c.role is Role.SUPPLY and not c.on}
    for at_us, supply in lost:
        for c in run.changes:
            if c.at_us == at_us and c.side is not Side.WORLD and not c.on:
                yield Lead(at_us, Place(supply, Side.WORLD, Role.SUPPLY), Place(c.signal, c.side, c.role))


@dataclass(frozen=True, slots=True)
class Command:
    """A rod sets out, because of these inputs (or of what else was done from outside, in words) or, where there are
    none, of a time that ran out (``after_us``, as far as it is known); ``seen``: the rod whose switch was one of
    them."""

    at_us: int
    rod: Rod
    of: tuple[str, ...]
    seen: Rod | None = None
    after_us: int = 0


def commands(run: Run, moving: Sequence[Rod], signals: Sequence[Trace], why: Causes | None) -> tuple[Command, ...]:
    """Every setting out of a rod at which something was seen to be its cause."""
    found = leads(run, moving, signals, why)
    owners = {trace.name: rod for rod in moving for trace in switches(rod, signals)}
    by_name = {rod.name: rod for rod in moving}
    clocks = () if why is None else why.clocks
    made = []
    for move in run.moves:
        if not move.way:
            continue
        now = [lead for lead in found if lead.at_us == move.at_us]
        solenoids = {lead.of for lead in now if lead.to.rod and lead.to.name == move.actuator}
        of = tuple(dict.fromkeys(lead.of.name for lead in now if lead.to in solenoids and not lead.of.clock))
        seen = next((owners[name] for name in of if name in owners), None)
        timers = {lead.of.name for lead in now if lead.to in solenoids and lead.of.clock}
        over = [c.preset_us for c in clocks if c.ran_out and c.to_us == move.at_us and c.timer in timers]
        if not timers:
            of = of or tuple(_done_to(run, move))
        made.append(Command(move.at_us, by_name[move.actuator], of, seen, over[0] if over and not of else 0))
    return tuple(made)


def _done_to(run: Run, move: Move) -> Iterator[str]:
    """What else was done from outside that lets a rod set out, in words."""
    for c in run.changes:
        if c.at_us == move.at_us and c.at_us > 0:
            if c.role is Role.JAM and c.signal == move.actuator and not c.on:
                yield "freed"
            elif c.role is Role.SUPPLY:
                yield f"{c.signal} {'back' if c.on else 'lost'}"
