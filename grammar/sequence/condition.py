"""The part of the tree that conditions are: what a step waits for, a trigger, a rule."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence.node import Name, Node, Quantity

__all__ = [
    "After",
    "AllOf",
    "AnyOf",
    "AtRest",
    "Cond",
    "HasReached",
    "NotCond",
    "PlaceIs",
    "StateIs",
    "StateWord",
    "Sustained",
]


class StateWord:
    """The words a device's state is told in, in canonical spelling."""

    PRESSED = "pressed"  # a pushbutton, the moment of pressing (an edge)
    HELD = "held"  # a pushbutton is down
    RELEASED = "released"  # a pushbutton is up
    MADE = "made"  # a switch is actuated
    NOT_MADE = "not made"
    ON = "on"  # a selector, a load or a solenoid
    OFF = "off"
    OPEN = "open"  # the contact of an input conducts or not, as wired
    CLOSED = "closed"
    AT_END = "at-end"  # an actuator stands at a switch
    AT_HOME = "at-home"


@dataclass(frozen=True, slots=True)
class StateIs(Node):
    """``START is pressed``, ``LS1 is made``, ``LS1`` (word ``made``), ``LS1 is not made``."""

    device: Name
    word: str


@dataclass(frozen=True, slots=True)
class PlaceIs(Node):
    """``PLATEN is at-end`` or a bare ``at-end`` (actuator None: every actuator this step moves)."""

    actuator: Name | None
    word: str
    negated: bool = False


@dataclass(frozen=True, slots=True)
class HasReached(Node):
    """``PARTS has reached 12``: a counter stands at that number or above."""

    counter: Name
    number: int


@dataclass(frozen=True, slots=True)
class AtRest(Node):
    """``LOADER is at rest``: that station's cycle has not begun, or is over."""

    station: Name


@dataclass(frozen=True, slots=True)
class After(Node):
    """``after 5 s``: this step has lasted at least so long."""

    time: Quantity


@dataclass(frozen=True, slots=True)
class Sustained(Node):
    """``LS1 is made for 0.5 s``."""

    of: Cond
    time: Quantity


@dataclass(frozen=True, slots=True)
class NotCond(Node):
    of: Cond


@dataclass(frozen=True, slots=True)
class AllOf(Node):
    """Two or more conditions joined by ``and``."""

    parts: tuple[Cond, ...]


@dataclass(frozen=True, slots=True)
class AnyOf(Node):
    """Two or more conditions joined by ``or``."""

    parts: tuple[Cond, ...]


Cond = StateIs | PlaceIs | HasReached | AtRest | After | Sustained | NotCond | AllOf | AnyOf
