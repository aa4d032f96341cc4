"""A followed cycle in the words of the sequence language, as a tree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from compiler.condition import (
    And,
    Condition,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
    either,
    negated,
    walk,
)
from compiler.lowering.commands import end_switch
from compiler.machine import Actuator, End, InputKind, Machine, Motor, ValveKind
from compiler.retell.cycle import Followed, Piece
from compiler.retell.devices import declared, time
from grammar.sequence import tree

__all__ = ["program"]

_PLACES = {End.END: tree.StateWord.AT_END, End.HOME: tree.StateWord.AT_HOME}


def program(machine: Machine, followed: Followed) -> tree.Program:
    """The whole program: devices, home, cycle and rules."""
    trigger, home = _start(machine, followed.trigger)
    steps = tuple(_Teller(machine).steps(followed.pieces))
    heads = [] if home is None else [tree.Home(_condition(machine, home))]
    cycle = tree.Cycle(tree.Trigger(_condition(machine, trigger)), steps)
    return tree.Program((*declared(machine), *heads, cycle, *_rules(machine, followed)))


def _start(machine: Machine, trigger: Condition) -> tuple[Condition, Condition | None]:
    """What starts the cycle, and where the cylinders must be for it."""
    parts = sorted(
        trigger.of if isinstance(trigger, And) else (trigger,), key=lambda part: not _by_hand(machine, part)
    )
    places = [part for part in parts if isinstance(part, Signal) and _end_of(machine, part.device) is not None]
    others = [part for part in parts if part not in places]
    return (both(*others), both(*places)) if places and others else (both(*parts), None)


def _by_hand(machine: Machine, part: Condition) -> bool:
    device = part.device if isinstance(part, Signal | Rise) else None
    return device is not None and machine.input(device).kind is InputKind.PUSHBUTTON


def _rules(machine: Machine, followed: Followed) -> Iterator[tree.Declaration]:
    shown = sorted({load for p in followed.pieces if _faults(p) and p.limit for load in p.limit.shown})
    order = [load.name for load in machine.loads if load.name in shown]
    if order:
        yield tree.OnFault(tuple(tree.Turn(True, tree.Name(name)) for name in order))
    if followed.stops:
        signals = ((Signal(device=name), on) for name, on in followed.stops)
        stop = either(*(signal if on else negated(signal) for signal, on in signals))
        yield tree.StopRule(_condition(machine, stop, lasting=True))


def _faults(piece: Piece) -> bool:
    return piece.limit is not None and piece.limit.latched and not piece.limit.goes_on


# --- steps -----------------------------------------------------------------------------------------------------


@dataclass
class _Teller:
    """Steps told one after another. ``on`` are the loads that stay on until something else is said."""

    machine: Machine
    on: set[str] = field(default_factory=set)

    def steps(self, pieces: tuple[Piece, ...]) -> Iterator[tree.CycleStep]:
        for piece in pieces:
            step = self._step(piece)
            if step.commands:
                yield step

    def _step(self, piece: Piece) -> tree.CycleStep:
        if piece.end is None:
            loads = [load.name for load in self.machine.loads]
            return tree.CycleStep((*self._halts(piece.on), *self._turns(piece.on, loads)))
        driven = {name for a in self.machine.actuators for name in a.valve.solenoids}
        driven |= {name for m in self.machine.motors for name in (m.forward, m.reverse)}
        others = [load.name for load in self.machine.loads if load.name not in driven]
        commands: list[tree.Command] = [*self._turns(piece.on, others)]
        moving: list[tuple[Actuator, End]] = []
        for actuator in self.machine.actuators:
            for command in self._stroke(actuator, piece.on):
                commands.append(command)
                if isinstance(command, tree.Stroke):
                    moving.append((actuator, End.END if command.direction == "extend" else End.HOME))
        for motor in self.machine.motors:
            commands += self._run(motor, piece.on)
        if not moving and not any(isinstance(command, tree.Run) for command in commands):
            commands.append(tree.Wait("hold" if self._presses(piece.on) else "wait"))
        step = tree.CycleStep(tuple(commands))
        if piece.end.until is None:
            return replace(step, duration=time(piece.end.for_us or 1))
        return replace(step, until=self._until(piece, moving), within=_within(self.machine, piece))

    def _turns(self, on: frozenset[str], loads: list[str]) -> Iterator[tree.Turn]:
        for name in loads:
            if (name in on) != (name in self.on):
                self.on ^= {name}
                yield tree.Turn(name in on, tree.Name(name))

    def _halts(self, on: frozenset[str]) -> Iterator[tree.Command]:
        """Centred valves that drove their cylinders and no longer do."""
        for actuator in self.machine.actuators:
            opposed = set(actuator.valve.opposed) if actuator.valve.kind is ValveKind.THREE_POSITION else set()
            if opposed & self.on and not opposed & on:
                self.on -= opposed
                yield tree.Halt(tree.Name(actuator.name))

    def _stroke(self, actuator: Actuator, on: frozenset[str]) -> Iterator[tree.Command]:
        """A spring-return or centred valve is told once, and again where a stroke is made quick or slow; a memory
        valve in every step in which its solenoid is on."""
        yield from self._sent(actuator, on)
        if actuator.valve.rapid is not None:
            yield from self._turns(on, [actuator.valve.rapid.solenoid])

    def _sent(self, actuator: Actuator, on: frozenset[str]) -> Iterator[tree.Command]:
        extend, retract = actuator.valve.extend or "", actuator.valve.retract or ""
        turned = self._changes(actuator, on)
        match actuator.valve.kind:
            case ValveKind.SPRING_RETURN:
                if turned:
                    yield self._stroke_to(actuator, on, out=extend in on if extend else retract not in on)
            case ValveKind.THREE_POSITION:
                if turned and (extend in on) is not (retract in on):
                    yield self._stroke_to(actuator, on, out=extend in on)
                elif turned and not {extend, retract} & on:
                    self.on -= set(actuator.valve.solenoids)
                    yield tree.Halt(tree.Name(actuator.name))
                else:
                    yield from self._turns(on, [extend, retract])
            case ValveKind.MEMORY:
                if {extend, retract} <= on or {extend, retract} & self.on:
                    yield from self._turns(on, [extend, retract])
                elif {extend, retract} & on:
                    yield self._stroke_to(actuator, on, out=extend in on)
                    self.on -= {extend, retract}

    def _changes(self, actuator: Actuator, on: frozenset[str]) -> bool:
        """Whether a stroke must be told for what changes: that a valve is switched, or how quick a stroke out is."""
        valve, rapid = actuator.valve, actuator.valve.rapid
        turned = {name for name in (valve.extend, valve.retract) if name and (name in on) != (name in self.on)}
        out = valve.extend in on if valve.extend is not None else valve.retract not in on
        return bool(turned) or (rapid is not None and out and (rapid.solenoid in on) != (rapid.solenoid in self.on))

    def _stroke_to(self, actuator: Actuator, on: frozenset[str], *, out: bool) -> tree.Stroke:
        """A stroke, which also says how quick it is; ``on`` is then as it leaves the solenoids."""
        valve, rapid = actuator.valve, actuator.valve.rapid
        rapidly = out and rapid is not None and rapid.solenoid in on
        self.on -= set(valve.solenoids)
        self.on |= {name for name in (valve.extend, valve.retract) if name and name in on}
        if rapid is not None and rapidly:
            self.on.add(rapid.solenoid)
        return tree.Stroke("extend" if out else "retract", tree.Name(actuator.name), rapidly)

    def _run(self, motor: Motor, on: frozenset[str]) -> Iterator[tree.Command]:
        """A motor runs in every step of its own that says so; in one with both its loads on they are turned on."""
        forward, reverse = motor.forward in on, motor.reverse in on
        if (forward and reverse) or {motor.forward, motor.reverse} & self.on:
            yield from self._turns(on, [motor.forward, motor.reverse])
        elif forward or reverse:
            yield tree.Run(tree.Name(motor.name), "forward" if forward else "reverse")

    def _presses(self, on: frozenset[str]) -> bool:
        return any(a.valve.extend in on for a in self.machine.actuators if a.valve.kind is ValveKind.SPRING_RETURN)

    def _until(self, piece: Piece, moving: list[tuple[Actuator, End]]) -> tree.Until:
        assert piece.end is not None
        until = piece.end.until
        assert until is not None
        if piece.limit is not None and piece.limit.goes_on:
            until = either(until, Elapsed(step="S", time_us=piece.limit.time_us))
        if len(moving) == 1 and until == _arrived(*moving[0]):
            return tree.Until(tree.PlaceIs(None, _PLACES[moving[0][1]]))
        return tree.Until(_condition(self.machine, until))


def _arrived(actuator: Actuator, place: End) -> Condition | None:
    switch = end_switch(actuator, place)
    return None if switch is None else Signal(device=switch)


def _within(machine: Machine, piece: Piece) -> tree.Within | None:
    if not _faults(piece) or piece.limit is None or piece.end is None or piece.end.until is None:
        return None
    return tree.Within(time(piece.limit.time_us), tree.Fault(tree.Text(_message(machine, piece.end.until))))


def _message(machine: Machine, until: Condition) -> str:
    place = _end_of(machine, until.device) if isinstance(until, Signal) else None
    if place is not None:
        return f"{place[0]} did not come {'home' if place[1] is End.HOME else 'to its end'}"
    names = dict.fromkeys(part.device for part in _signals(until))
    return f"waited too long for {' and '.join(names)}"


def _signals(condition: Condition) -> Iterator[Signal | Rise]:
    return (part for part in walk(condition) if isinstance(part, Signal | Rise))


# --- conditions ------------------------------------------------------------------------------------------------


def _end_of(machine: Machine, switch: str) -> tuple[str, End] | None:
    """The cylinder whose end a switch sees, and which end."""
    return next(((a.name, place) for a in machine.actuators for place in End if end_switch(a, place) == switch), None)


def _condition(machine: Machine, condition: Condition, *, lasting: bool = False) -> tree.Cond:
    """The words of a condition; with ``lasting`` a button that is down is "pressed", where that can only mean so."""
    match condition:
        case Signal(device=device):
            return _signal(machine, device, on=True, lasting=lasting)
        case Not(of=Signal(device=device)):
            return _signal(machine, device, on=False, lasting=lasting)
        case Rise(device=device):
            return tree.StateIs(tree.Name(device), tree.StateWord.PRESSED)
        case Elapsed(time_us=time_us):
            return tree.After(time(time_us))
        case Sustained(of=of, time_us=time_us):
            return tree.Sustained(_condition(machine, of), time(time_us))
        case Not(of=of):
            return tree.NotCond(_condition(machine, of))
        case And(of=parts):
            return tree.AllOf(tuple(_condition(machine, part, lasting=lasting) for part in parts))
        case Or(of=parts):
            return tree.AnyOf(tuple(_condition(machine, part, lasting=lasting) for part in parts))
        case _:
            raise AssertionError(f"{type(condition).__name__} was never looked for")


def _signal(machine: Machine, device: str, *, on: bool, lasting: bool) -> tree.Cond:
    place = _end_of(machine, device)
    if place is not None:
        return tree.PlaceIs(tree.Name(place[0]), _PLACES[place[1]], negated=not on)
    match machine.input(device).kind:
        case InputKind.PUSHBUTTON:
            held = tree.StateWord.PRESSED if lasting else tree.StateWord.HELD
            word = held if on else tree.StateWord.RELEASED
        case InputKind.SELECTOR:
            word = tree.StateWord.ON if on else tree.StateWord.OFF
        case _:
            word = tree.StateWord.MADE if on else tree.StateWord.NOT_MADE
    return tree.StateIs(tree.Name(device), word)
