"""What a scan leaves to the next: the places that are read before they are written, and outputs left as they were.

The rest is worked out anew in every scan and need not be remembered. So a program has fewer states, and a scan that
leaves what is remembered as it was would do the same again: nothing more need be scanned.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from compiler.timers import TimerKind
from grammar.structured_text.declared import Declared, Role, key
from grammar.structured_text.tree import (
    Assignment,
    Call,
    CaseStatement,
    Chain,
    Expression,
    Given,
    IfStatement,
    Name,
    Negation,
    Negative,
    Pin,
    PinAssignment,
    ReturnStatement,
    Statement,
    Variable,
)

__all__ = ["MEMORY", "TIMERS", "Flow", "Place", "flow", "output_place"]

Place = tuple[str, str]
"""The key of a name, and what of it: empty for a variable, the field of a block, ``pin IN`` for an input of one."""

TIMERS = {"TON": TimerKind.ON_DELAY, "TOF": TimerKind.OFF_DELAY, "TP": TimerKind.ONE_SHOT}

# What each block remembers, with its value before the first call; a timer's is its phase.
MEMORY: Mapping[str, Mapping[str, bool | int]] = {
    "TON": {"phase": 0},
    "TOF": {"phase": 0},
    "TP": {"phase": 0},
    "R_TRIG": {"M": False, "Q": False},
    "F_TRIG": {"M": False, "Q": False},
    "SR": {"Q1": False},
    "RS": {"Q1": False},
    "CTU": {"M": False, "Q": False, "CV": 0},
    "CTD": {"M": False, "Q": False, "CV": 0},
    "CTUD": {"MU": False, "MD": False, "QU": False, "QD": False, "CV": 0},
}
# The fields that a call works out without looking at what they were.
_MADE_ANEW = frozenset({"Q", "QU", "QD"})


@dataclass(frozen=True)
class Flow:
    """The places some statement writes to, and those of them whose value is carried from one scan to the next."""

    written: frozenset[Place]
    carried: frozenset[Place]


def flow(body: tuple[Statement, ...], names: Mapping[str, Declared], kept: Iterable[Place]) -> Flow:
    """The flow of a sound body. ``kept`` are the input pins of blocks that keep the value given last."""
    run = _Run(names, frozenset(kept))
    temporary = {(where, "") for where, one in names.items() if one.section == "VAR_TEMP"}
    end = run.body(body, frozenset(temporary))
    seen = {(where, "") for where, one in names.items() if one.role in (Role.OUTPUT, Role.EXTERNAL)}
    for sure in (*run.left, end):
        if sure is not None:
            run.carried |= seen - sure  # an output that this way leaves as it was
    return Flow(frozenset(run.written), frozenset(run.carried & run.written))


def output_place(names: Mapping[str, Declared], block: Name, pin: Name) -> Place:
    """Where an output of a block is told: a timer's in its phase."""
    where = key(block)
    return (where, "phase") if names[where].type in TIMERS else (where, pin.text.upper())


Sure = frozenset[Place] | None
"""The places written for sure on the way here; None where no way leads here, for a RETURN went before."""


@dataclass
class _Run:
    names: Mapping[str, Declared]
    kept: frozenset[Place]
    written: set[Place] = field(default_factory=set)
    carried: set[Place] = field(default_factory=set)
    left: list[frozenset[Place]] = field(default_factory=list)  # what was sure at each RETURN

    def body(self, body: tuple[Statement, ...], sure: frozenset[Place]) -> Sure:
        """What is sure behind a body. Behind a RETURN one goes on as if there were a way, only to end without one."""
        dead = False
        for statement in body:
            after = self.statement(statement, sure)
            dead = dead or after is None
            sure = sure if after is None else after
        return None if dead else sure

    def statement(self, statement: Statement, sure: frozenset[Place]) -> Sure:
        match statement:
            case Assignment(target=target, value=value):
                self.read(value, sure)
                return self.write(sure, (key(target), ""))
            case PinAssignment(pin=pin, value=value):
                self.read(value, sure)
                return self.write(sure, (key(pin.block), f"pin {pin.pin.text.upper()}"))
            case Call():
                return self.call(statement, sure)
            case IfStatement(branches=branches, otherwise=otherwise):
                ends: list[Sure] = []
                for branch in branches:
                    self.read(branch.condition, sure)
                    ends.append(self.body(branch.body, sure))
                return _joined([*ends, self.body(otherwise or (), sure)])
            case CaseStatement(selector=selector, entries=entries, otherwise=otherwise):
                self.read(selector, sure)
                ends = [self.body(entry.body, sure) for entry in entries]
                return _joined([*ends, self.body(otherwise or (), sure)])
            case ReturnStatement():
                self.left.append(sure)
                return None
            case _:
                return sure

    def call(self, call: Call, sure: frozenset[Place]) -> frozenset[Place]:
        where = key(call.block)
        one = self.names[where]
        assert one.block is not None
        for argument in call.arguments:
            if isinstance(argument, Given):
                self.read(argument.value, sure)
                sure = self.write(sure, (where, f"pin {argument.pin.text.upper()}"))
        pins = {(where, f"pin {pin}") for pin in one.block.inputs} & self.kept
        fields = {(where, name) for name in MEMORY[one.type]}
        self.carried |= (pins | {place for place in fields if place[1] not in _MADE_ANEW}) - sure
        sure = self.write(sure, *fields)
        for argument in call.arguments:
            if not isinstance(argument, Given):
                sure = self.write(sure, (key(argument.target), ""))
        return sure

    def read(self, value: Expression, sure: frozenset[Place]) -> None:
        self.carried |= {place for place in _read_by(value, self.names) if place not in sure}

    def write(self, sure: frozenset[Place], *places: Place) -> frozenset[Place]:
        self.written.update(places)
        return sure.union(places)


def _joined(ends: list[Sure]) -> Sure:
    """What is sure where several ways meet."""
    there = [sure for sure in ends if sure is not None]
    return frozenset.intersection(*there) if there else None


def _read_by(value: Expression, names: Mapping[str, Declared]) -> Iterator[Place]:
    match value:
        case Variable(name=name):
            yield key(name), ""
        case Pin(block=block, pin=pin):
            yield output_place(names, block, pin)
        case Negation(of=of) | Negative(of=of):
            yield from _read_by(of, names)
        case Chain(first=first, links=links):
            yield from _read_by(first, names)
            for link in links:
                yield from _read_by(link.operand, names)
        case _:
            pass
