"""A difference in one sentence: what happens, what was still so then, and what either implementation makes of it."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.machine import Actuator, InputKind, Machine, ValveKind
from compiler.simulation.run import Change, Difference, Role, Run, Side

__all__ = ["happening", "seconds", "sentence"]


def sentence(run: Run, machine: Machine) -> str:
    """For example: "START is still held when STOP is let go at 3.2 s: SOL1 comes on in the on-delay dwell rungs (RAM
    extends) and stays off in the sequence as written (RAM stays home)". The run must have a difference."""
    difference = run.difference
    assert difference is not None
    at_us = difference.at_us
    moment = f"{happening(run, machine, at_us)} at {seconds(at_us)}{_after(run, machine, at_us)}".lstrip()
    if difference.loop:
        return f"{moment}: {run.shadow} never settles ({', '.join(difference.loop)})"
    if _timed(run, at_us) == [Side.DRIVER]:
        sides = (Side.DRIVER, "there"), (Side.SHADOW, f"in {run.shadow}")
    else:
        there = _timed(run, at_us) == [Side.SHADOW]
        sides = (Side.SHADOW, "there" if there else f"in {run.shadow}"), (Side.DRIVER, f"in {run.driver}")
    told = [_side(run, machine, difference, side, where) for side, where in sides]
    return f"{moment}: {difference.output} {' and '.join(told)}{_unmoved(run, machine, difference)}"


def happening(run: Run, machine: Machine, at_us: int) -> str:
    """What happens at a moment, and what has been so since before: "START is still held when STOP is let go". Empty
    when nothing does."""
    now = [c for c in _now(run, at_us) if c.side is Side.WORLD]
    switched = {c.signal for c in now if c.role is Role.INPUT}
    sticks = {c.signal for c in now if c.role is Role.STUCK and c.on and c.signal in switched}
    done = " and ".join(
        f"{_done(c, machine)} and sticks" if c.signal in sticks else _done(c, machine)
        for c in now
        if c.role is not Role.STUCK or c.signal not in sticks
    )
    if not done and at_us:
        names = {Side.DRIVER: run.driver, Side.SHADOW: run.shadow}
        whose = [names[side] for side in _timed(run, at_us)] if run.shadow else []
        done = " in ".join(["a time runs out", *([" and ".join(whose)] if whose else [])])
    return " when ".join(part for part in (" and ".join(_held(run, machine, at_us)), done) if part)


def _now(run: Run, at_us: int) -> list[Change]:
    return [c for c in run.changes if c.at_us == at_us and not _begins(c)]


def _timed(run: Run, at_us: int) -> list[Side]:
    """Which sides a time runs out in: those that change while the world does nothing."""
    sides = {c.side for c in _now(run, at_us)}
    return [] if Side.WORLD in sides else [side for side in (Side.DRIVER, Side.SHADOW) if side in sides]


def _after(run: Run, machine: Machine, at_us: int) -> str:
    """What disturbed the run before and was over by then: the last press of STOP or the last loss of supply."""
    told: list[tuple[int, str]] = []
    for role, signals, on, words in (
        (Role.INPUT, {machine.stop}, True, f"{machine.stop} was pressed"),
        (Role.SUPPLY, {"supply"}, False, "the supply was lost"),
    ):
        own = [c for c in run.changes if c.side is Side.WORLD and c.role is role and c.signal in signals]
        done = [c.at_us for c in own if c.on is on and c.at_us < at_us]
        undone = [c.at_us for c in own if c.on is not on and c.at_us < at_us]
        still = [c for c in own if c.at_us == at_us]
        if done and undone and done[-1] <= undone[-1] and not still:
            told.append((done[-1], f", after {words} at {seconds(done[-1])}"))
    return max(told, default=(0, ""))[1]


def _begins(change: Change) -> bool:
    return change.role is Role.SUPPLY and change.at_us == 0


def _done(change: Change, machine: Machine) -> str:
    match change.role:
        case Role.SUPPLY:
            return "the supply returns" if change.on else "the supply goes"
        case Role.JAM:
            return f"{change.signal} jams"
        case Role.STUCK:
            return f"{change.signal} sticks"
        case _:
            button = machine.input(change.signal).kind is InputKind.PUSHBUTTON
            words = ("is pressed" if button else "is made") if change.on else "is let go" if button else "lets go"
            return f"{change.signal} {words}"


def _held(run: Run, machine: Machine, at_us: int) -> Iterator[str]:
    """Buttons that are down, rods that are jammed and switches that stick since before."""
    last: dict[tuple[Role, str], bool] = {}
    for change in run.changes:
        if change.side is Side.WORLD and change.at_us < at_us:
            last[change.role, change.signal] = change.on
    changing = {c.signal for c in run.changes if c.at_us == at_us and c.side is Side.WORLD}
    for (role, name), on in last.items():
        if not on or name in changing:
            continue
        if role is Role.JAM:
            yield f"{name} has jammed"
        elif role is Role.STUCK:
            yield f"{name} is stuck {'made' if last.get((Role.INPUT, name)) else 'open'}"
        elif role is Role.INPUT and machine.input(name).kind is InputKind.PUSHBUTTON:
            yield f"{name} is still held"


def _side(run: Run, machine: Machine, difference: Difference, side: Side, where: str) -> str:
    """ "comes on in the rungs (RAM extends)"."""
    on = difference.driver_on if side is Side.DRIVER else difference.shadow_on
    changed = any(
        c.side is side and c.role is Role.OUTPUT and c.signal == difference.output and c.at_us == difference.at_us
        for c in run.changes
    )
    words = ("comes on" if on else "goes off") if changed else ("stays on" if on else "stays off")
    motion = _driven(run, machine, difference, on)
    return f"{words} {where}{motion and f' ({motion})'}"


def _driven(run: Run, machine: Machine, difference: Difference, on: bool) -> str:
    """What the actuator or motor does that the output drives when it is on or off; nothing where it drives none."""
    output = difference.output
    for actuator in machine.actuators:
        if output in (actuator.valve.extend, actuator.valve.retract):
            return _motion(run, actuator, difference, on)
    for motor in machine.motors:
        if output in (motor.forward, motor.reverse):
            way = "forward" if output == motor.forward else "in reverse"
            return f"{motor.name} {'runs' if on else 'is not run'} {way}"
    return ""


def _motion(run: Run, actuator: Actuator, difference: Difference, on: bool) -> str:
    """What the actuator does when that output is on or off; where it stands is known from the run."""
    name, valve = actuator.name, actuator.valve
    if not on and valve.kind is not ValveKind.SPRING_RETURN:
        return f"{name} is not {'sent' if valve.kind is ValveKind.MEMORY else 'driven'}"
    out = (difference.output == valve.extend) is on
    position = _position(run, actuator, difference.at_us)
    if out:
        return f"{name} stays out" if position == actuator.stroke_um else f"{name} extends"
    return f"{name} stays home" if position == 0 else f"{name} retracts"


def _unmoved(run: Run, machine: Machine, difference: Difference) -> str:
    """That nothing moves for the difference as it begins: it is one solenoid of a valve that stays where it was put,
    and the rod stands where that solenoid sends it. What comes later is not looked at, for the run ends there."""
    at_us, output = difference.at_us, difference.output
    actuator = next((a for a in machine.actuators if output in (a.valve.extend, a.valve.retract)), None)
    if actuator is None or actuator.valve.kind is not ValveKind.MEMORY:
        return ""
    there = actuator.stroke_um if output == actuator.valve.extend else 0
    driver, shadow = _on(run, Side.DRIVER, at_us), _on(run, Side.SHADOW, at_us)
    opposite = {actuator.valve.extend, actuator.valve.retract} - {output}
    if _position(run, actuator, at_us) != there or driver ^ shadow != {output} or opposite & driver:
        return ""
    where = "out" if there else "home"
    return f". {actuator.name} is {where} already: nothing moves otherwise at that moment"


def _on(run: Run, side: Side, at_us: int) -> set[str]:
    """The outputs that one side has on once all of a moment has happened."""
    last = {c.signal: c.on for c in run.changes if c.side is side and c.role is Role.OUTPUT and c.at_us <= at_us}
    return {signal for signal, on in last.items() if on}


def _position(run: Run, actuator: Actuator, at_us: int) -> int | None:
    """Where the actuator has come to stand, in micrometres, if only just now; None while it moves. That it sets out
    at that moment comes of what is told."""
    own = [m for m in run.moves if m.actuator == actuator.name]
    moves = [m for m in own if m.at_us < at_us or (m.at_us == at_us and m.way == 0)]
    if not moves:
        return 0 if actuator.rest == "home" else actuator.stroke_um
    return moves[-1].position_um if moves[-1].way == 0 else None


def seconds(time_us: int) -> str:
    """A time in seconds, to the millisecond."""
    return f"{time_us / 1_000_000:.3f}".rstrip("0").rstrip(".") + " s"
