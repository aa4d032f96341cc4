"""A motor that runs both ways, and the clauses that say what turns it each way."""

from __future__ import annotations

from dataclasses import replace

from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import clauses as part
from grammar.sequence import tree

__all__ = ["begun", "joined", "missing"]

_NOBODY = tree.Name("")


def begun(head: part.MotorHead) -> tree.MotorDevice:
    """The motor with neither direction yet."""
    return tree.MotorDevice(head.kind, head.name, _NOBODY, _NOBODY, span=head.span)


def joined(motor: tree.MotorDevice, node: part.MotorSides, found: list[Diagnostic]) -> tree.MotorDevice:
    """The motor with one or both directions more; a direction said twice is noted."""
    for side in node.sides:
        taken = motor.forward if side.direction == "forward" else motor.reverse
        span = motor.span.to(side.span)
        if taken.text:
            other = "reverse" if side.direction == "forward" else "forward"
            message = f"{taken.text} already turns {motor.name.text} {_way(side.direction)}"
            found.append(Diagnostic("RW163", Severity.FAULT, message, side.span, cure=f"{side.load.text} {other}"))
        elif side.direction == "forward":
            motor = replace(motor, forward=side.load, span=span)
        else:
            motor = replace(motor, reverse=side.load, span=span)
    return motor


def missing(motor: tree.MotorDevice) -> list[Diagnostic]:
    """What a motor lacks at its end."""
    lacking = [word for word, name in (("forward", motor.forward), ("reverse", motor.reverse)) if not name.text]
    if not lacking:
        return []
    ways = " and ".join(map(_way, lacking))
    message = f"what turns {motor.name.text} {ways} is not said"
    name = motor.name.text
    cure = f"{motor.kind} motor {name}, SOL1 forward, SOL2 reverse  -  or for one that runs one way: motor {name}"
    return [Diagnostic("RW163", Severity.FAULT, message, motor.span, cure=cure)]


def _way(direction: str) -> str:
    return "in reverse" if direction == "reverse" else direction
