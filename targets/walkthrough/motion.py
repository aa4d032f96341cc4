"""What valves, rods, motors and the pump do, and what switches make of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.machine import Actuator, LoadKind, Machine, ValveKind
from compiler.walk.changes import InputChange, Instant, MotorChange, PumpChange, Stroke
from targets.walkthrough.told import Sentence
from targets.walkthrough.words import capital, listed, place_words

__all__ = ["arrivals", "motor_verb", "pump_sentence", "setting_out", "stroke_verb", "switch_words"]


def arrivals(machine: Machine, instant: Instant) -> Iterator[Sentence]:
    """Rods that came to the end of a stroke, and switches that the machine made or let go."""
    switched = {change.signal: change for change in instant.inputs if change.by}
    for stroke in instant.strokes:
        if is_arrival(stroke) or _turned_at_end(stroke):
            own = [change for change in switched.values() if change.by == stroke.actuator]
            switched = {name: change for name, change in switched.items() if change not in own}
            arrived = (stroke,) if is_arrival(stroke) else ()
            doing = [_arriving(stroke), *(switch_words(machine, change) for change in own)]
            yield Sentence(f"{stroke.actuator} {listed(doing)}.", (), (*arrived, *own))
    if instant.at_us == 0:
        yield from _found(machine, switched, instant)
        return
    for change in switched.values():
        yield Sentence(f"{_unarrived(machine.actuator(change.by), change, instant)}.", (), (change,))


def _found(machine: Machine, switched: dict[str, InputChange], instant: Instant) -> Iterator[Sentence]:
    """Where rods stand as the run begins, and the switches that are made there: those at a like place together."""
    at = dict(instant.places)
    places: dict[tuple[str, str], list[InputChange]] = {}
    for change in switched.values():
        full, there = machine.actuator(change.by).stroke_um, f"at {place_words(at[change.by])}"
        words = ("home", "home") if at[change.by] == 0 else (there, there)
        places.setdefault(("at its end", "at their ends") if at[change.by] == full else words, []).append(change)
    for (one, many), changes in places.items():
        rods, made = list(dict.fromkeys(c.by for c in changes)), [c.signal for c in changes]
        standing = f"is {one}" if len(rods) == 1 else f"are {many}"
        verb = "is" if len(made) == 1 else "are"
        yield Sentence(f"{listed(rods)} {standing}, and {listed(made)} {verb} made.", (), tuple(changes))


def setting_out(machine: Machine, instant: Instant) -> Iterator[Sentence]:
    """Rods that set out, turned, changed their speed or were stopped by their valves, and motors."""
    for change in instant.motors:
        yield Sentence(f"{change.signal} {motor_verb(change)}.", (), (change,))
    yield from _centred(machine, instant)
    groups: dict[object, list[tuple[_Shift, Stroke]]] = {}
    for stroke in (stroke for stroke in instant.strokes if not is_arrival(stroke)):
        shift = _shifting(machine.actuator(stroke.actuator), stroke)
        groups.setdefault((shift.many, shift.doing) if shift.many else stroke.actuator, []).append((shift, stroke))
    for group in groups.values():
        yield Sentence(f"{capital(_together([shift for shift, _ in group]))}.", (), tuple(s for _, s in group))


def _centred(machine: Machine, instant: Instant) -> Iterator[Sentence]:
    """Valves whose springs centre them while their rods stand: nothing moves, but the rod is held otherwise now."""
    moved = {stroke.actuator for stroke in instant.strokes if not is_arrival(stroke)}
    for actuator in machine.actuators:
        valve = actuator.valve
        gone = any(o.signal in (valve.extend, valve.retract) and not o.on for o in instant.outputs)
        commanded = {valve.extend, valve.retract} & instant.on
        if valve.kind is ValveKind.THREE_POSITION and gone and not commanded and actuator.name not in moved:
            yield Sentence(f"The springs bring {actuator.name}'s valve to its {valve.centre}.")


def is_arrival(stroke: Stroke) -> bool:
    """Whether a rod stopped by itself, at an end or jammed, and not because its valve did anything."""
    return stroke.way == 0 and bool(stroke.place or not stroke.solenoids)


def _turned_at_end(stroke: Stroke) -> bool:
    """Whether a rod came to an end and was sent back from it at once."""
    return bool(stroke.place and stroke.was and stroke.way == -stroke.was)


def stroke_verb(stroke: Stroke) -> str:
    """What a rod did, for its name."""
    match stroke.way, stroke.was, stroke.place:
        case 0, _, _:
            return _arriving(stroke)
        case way, 0, _:
            return f"{_way(way)}{' rapidly' if stroke.rapid else ''}"
        case way, was, _ if way == was:
            speed = "rapidly" if stroke.rapid else "at its usual speed"
            return f"goes on {speed} from {place_words(stroke.position_um)}"
        case way, _, "end" | "home":
            return _way(way)
        case way, _, _:
            return f"turns back at {place_words(stroke.position_um)} and {_way(way)}"


def motor_verb(change: MotorChange) -> str:
    """What a motor did, for its name."""
    return f"runs {change.way}" if change.way else "stops"


def switch_words(machine: Machine, change: InputChange) -> str:
    """A switch that its own cylinder makes or lets go, for the name of the cylinder."""
    pressure = any(s.name == change.signal for s in machine.actuator(change.by).pressure_switches)
    if pressure:
        return f"its pressure {'makes' if change.on else 'leaves'} {change.signal}"
    return f"{'makes' if change.on else 'lets go of'} {change.signal}"


def pump_sentence(machine: Machine, change: PumpChange, *, first: bool) -> Iterator[Sentence]:
    """What the pump does as oil is wanted or no longer wanted, as far as the program says what pump there is; where
    it does not, what a pressure-compensated one would do, once. A motor among the loads may drive it or not, and
    nothing says so."""
    pump = machine.pump
    driven = ", as long as it is driven" if any(load.kind is LoadKind.MOTOR for load in machine.loads) else ""
    if change.unloaded:
        yield Sentence(
            f"Nothing takes oil now: the pump runs to tank through the tandem centre of {change.unloaded}'s "
            f"valve{driven}.",
            (),
            (change,),
        )
    elif pump is not None and pump.compensated:
        pressure = "" if pump.pressure_bar is None else f" at {pump.pressure_bar:g} bar"
        standby = f"Nothing takes oil now: the pump, pressure-compensated, de-strokes to standby{pressure}{driven}."
        yield Sentence("The pump comes off standby." if change.wanted else standby, (), (change,))
    elif pump is not None and not change.wanted:
        yield Sentence(
            f"Nothing takes oil now: the flow of the pump goes over the relief valve{driven}.", (), (change,)
        )
    elif pump is None and first and not change.wanted:
        yield Sentence(
            "Nothing takes oil now: a pressure-compensated pump de-strokes to standby, a fixed one feeds its relief "
            f"valve{driven}.",
            (),
            (change,),
        )


# --- one rod ----------------------------------------------------------------------------------------------------


def _arriving(stroke: Stroke) -> str:
    match stroke.place:
        case "end":
            return "comes to its end"
        case "home":
            return "comes home"
        case _:
            return f"stops at {place_words(stroke.position_um)}"


def _way(way: int) -> str:
    return "extends" if way > 0 else "retracts"


@dataclass(frozen=True, slots=True)
class _Shift:
    """What brought a stroke about at its valve. ``by`` are solenoids that came on; ``one`` says what shifts the
    valve, ``many`` the same of several valves, empty where strokes are not told together."""

    name: str
    doing: str
    by: tuple[str, ...] = ()
    one: str = ""
    many: str = ""


def _shifting(actuator: Actuator, stroke: Stroke) -> _Shift:
    name, doing = stroke.actuator, stroke_verb(stroke)
    on = tuple(o.signal for o in stroke.solenoids if o.on)
    off = [o.signal for o in stroke.solenoids if not o.on]
    alike = len(doing.split()) == 1  # where from is told of each
    rapid = actuator.valve.rapid
    if rapid is not None and {*on, *off} == {rapid.solenoid}:
        return _Shift(name, doing)
    if on:
        one = f"{listed(on)} shift{'s' if len(on) == 1 else ''} the valve"
        return _Shift(name, doing, on, one, "shift their valves" if alike else "")
    match actuator.valve.kind:
        case ValveKind.SPRING_RETURN if off:
            many = "springs return the valves" if alike else ""
            return _Shift(name, doing, (), "the spring returns the valve", many)
        case ValveKind.THREE_POSITION if off:
            return _Shift(name, doing, (), f"the springs bring the valve to its {actuator.valve.centre}")
        case _:
            return _Shift(name, doing)


def _together(shifts: list[_Shift]) -> str:
    """``Y1 and Y2 shift their valves: GATE and LIFT extend``."""
    first = shifts[0]
    if len(shifts) == 1:
        return f"{first.one}: {first.name} {first.doing}" if first.one else f"{first.name} {first.doing}"
    by = listed(name for shift in shifts for name in shift.by)
    lead = f"{by} {first.many}" if by else first.many
    return f"{lead}: {listed(shift.name for shift in shifts)} {first.doing.removesuffix('s')}"


def _unarrived(actuator: Actuator, change: InputChange, instant: Instant) -> str:
    name = actuator.name
    if any(s.name == change.signal for s in actuator.pressure_switches):
        if change.on:
            return f"The pressure on {name} has built up and makes {change.signal}"
        return f"The pressure on {name} has gone and {change.signal} lets go"
    at = dict(instant.places)[name]
    doing = "makes" if change.on else "lets go of"
    if name not in instant.moving:
        return f"{name}, standing at {place_words(at)}, {doing} {change.signal}"
    return f"On its way {name} {doing} {change.signal} at {place_words(at)}"
