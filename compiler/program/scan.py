"""One scan of a program as one Python function, written out and compiled once."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count

from compiler.program.counting import stopping
from compiler.program.flow import MEMORY, TIMERS
from compiler.program.layout import Layout, Slot
from compiler.program.value import Values, quotient, remainder, wrapped
from compiler.timers import Phase, TimerKind, advance, operated
from grammar.structured_text.blocks import Kind
from grammar.structured_text.constant import constant_integer
from grammar.structured_text.declared import key, statements
from grammar.structured_text.tree import (
    Assignment,
    Call,
    CaseStatement,
    Entry,
    Expression,
    Given,
    IfStatement,
    PinAssignment,
    ReturnStatement,
    Statement,
    Unit,
)

__all__ = ["OVERDUE", "Scan", "ScanText", "State", "scan_function", "scan_text"]

State = tuple[bool | int, ...]
Scan = Callable[[State, tuple[bool, ...], set[int]], tuple[State, tuple[bool, ...], bool]]
"""State, wires and the set of timers started, which it adds to; returns the state after the scan, the outputs, and
whether an output of a timer moved.

A timer that only began or ceased to time gives the same Q as before, and called once more with the same input it
stays as it is. So a scan that changes nothing but such phases is the last: the next would go the same way.
"""

OVERDUE = 4
"""A timer whose time has run out and that has not been called since: its outputs stay until it is called."""


@dataclass(frozen=True)
class ScanText:
    """A scan as the text of a Python function, and the tables it looks things up in."""

    source: str
    tables: Mapping[str, object]


def scan_function(text: ScanText) -> Scan:
    """The scan that a text says. Raises RecursionError or SyntaxError where it is nested beyond what Python takes."""
    space = dict(text.tables)
    exec(compile(text.source, "<structured text>", "exec"), space)
    scan: Scan = space["scan"]  # type: ignore[assignment]  # defined by the text just run
    return scan


def scan_text(unit: Unit, plan: Layout, wires: Mapping[str, int], outputs: Sequence[str | None]) -> ScanText:
    """The scan of a sound unit. ``wires`` gives the place of each input variable, ``outputs`` the variable of each
    load, None for a load that is never driven. Raises RecursionError where the program is nested too deep."""
    local = {place: f"({value})" for place, value in plan.fixed.items()}
    local |= {(slot.key, slot.field): f"s{k}" for k, slot in enumerate(plan.slots)}
    local |= {(slot.key, slot.field): f"p{k}" for k, slot in enumerate(plan.passing)}
    local |= {(where, ""): f"w{k}" for where, k in wires.items()}
    state = "".join(f"s{k}, " for k in range(len(plan.slots)))
    loads = "".join(f"{'False' if where is None else local[where, '']}, " for where in outputs)
    calls = Counter(key(one.block) for one in statements(unit.body) if isinstance(one, Call))
    ends = f"return ({state}), ({loads}), moved"
    writer = _Writer(plan, Values(plan.names, local), calls, ends, stopping(unit, plan.names))
    lines = ["def scan(state, wires, started):", " moved = False"]
    if plan.slots:
        lines.append(f" ({state}) = state")
    lines += [f" w{k} = wires[{k}]" for k in sorted(wires.values())]
    lines += [f" p{k} = {slot.initial}" for k, slot in enumerate(plan.passing) if _temporary(plan, slot)]
    lines += writer.body(unit.body, 1)
    lines.append(f" {writer.end}")
    tables: dict[str, object] = {
        "wrapped": wrapped,
        "quotient": quotient,
        "remainder": remainder,
        "bisect": bisect_right,
        **{name: _timer_table(kind) for name, kind in TIMERS.items()},
        **writer.tables,
    }
    return ScanText("\n".join(lines), tables)


def _temporary(plan: Layout, slot: Slot) -> bool:
    return plan.names[slot.key].section == "VAR_TEMP"


def _timer_table(kind: TimerKind) -> tuple[tuple[tuple[int, bool, bool], ...], ...]:
    """By phase and by input: the phase after a call, whether the clock starts, and whether the output moves."""
    rows = []
    for phase in (*Phase, OVERDUE):
        before = Phase.RUNNING if phase == OVERDUE else Phase(phase)
        turns = [advance(kind, before, energised, phase == OVERDUE) for energised in (False, True)]
        on = operated(kind, before)
        rows.append(tuple((int(turn.phase), turn.started, operated(kind, turn.phase) != on) for turn in turns))
    return tuple(rows)


@dataclass
class _Writer:
    plan: Layout
    values: Values
    calls: Mapping[str, int]
    end: str
    stopping: frozenset[str] = frozenset()
    tables: dict[str, object] = field(default_factory=dict)
    numbers: Iterator[int] = field(default_factory=count)

    def body(self, body: tuple[Statement, ...], depth: int) -> Iterator[str]:
        yield f"{' ' * depth}pass"
        for statement in body:
            yield from self.statement(statement, depth)

    def statement(self, statement: Statement, depth: int) -> Iterator[str]:
        pad = " " * depth
        match statement:
            case Assignment(target=target, value=value):
                where = key(target)
                wanted = self.values.of_kind(value, self.plan.names[where].kind)
                yield f"{pad}{self.values.locals[where, '']} = {wanted}"
            case Call():
                yield from (pad + line for line in self.call(statement))
            case PinAssignment(pin=pin, value=value):
                where, name = key(pin.block), pin.pin.text.upper()
                own = self.plan.names[where].block
                if own is not None and own.inputs[name] is not Kind.TIME:
                    wanted = self.values.of_kind(value, own.inputs[name])
                    yield f"{pad}{self.values.locals[where, f'pin {name}']} = {wanted}"
            case ReturnStatement():
                yield f"{pad}{self.end}"
            case IfStatement(branches=branches, otherwise=otherwise):
                for k, branch in enumerate(branches):
                    yield f"{pad}{'elif' if k else 'if'} {self.values.boolean(branch.condition)}:"
                    yield from self.body(branch.body, depth + 1)
                if otherwise:
                    yield f"{pad}else:"
                    yield from self.body(otherwise, depth + 1)
            case CaseStatement():
                yield from self.case(statement, depth)
            case _:
                pass

    # --- CASE: find the entry by halving, then go to it by halving ----------------------------------------

    def case(self, case: CaseStatement, depth: int) -> Iterator[str]:
        number = next(self.numbers)
        ranges = sorted(
            (first, first if label.last is None else self.number(label.last), k)
            for k, entry in enumerate(case.entries)
            for label in entry.labels
            for first in [self.number(label.first)]
        )
        bounds = [-40000]
        entries = [-1]
        for first, last, k in ranges:
            bounds += [first, last + 1]
            entries += [k, -1]
        self.tables |= {f"bounds{number}": bounds, f"entries{number}": entries}
        pad = " " * depth
        yield f"{pad}e = entries{number}[bisect(bounds{number}, {self.values.integer(case.selector)}) - 1]"
        yield f"{pad}if e < 0:"
        yield from self.body(case.otherwise or (), depth + 1)
        if case.entries:
            yield f"{pad}else:"
            yield from self.entries(case.entries, 0, depth + 1)

    def number(self, label: Expression) -> int:
        value = constant_integer(label, self.plan.names)
        assert value is not None
        return value

    def entries(self, entries: tuple[Entry, ...], first: int, depth: int) -> Iterator[str]:
        if len(entries) == 1:
            yield from self.body(entries[0].body, depth)
            return
        half = len(entries) // 2
        yield f"{' ' * depth}if e < {first + half}:"
        yield from self.entries(entries[:half], first, depth + 1)
        yield f"{' ' * depth}else:"
        yield from self.entries(entries[half:], first + half, depth + 1)

    # --- blocks, as IEC 61131-3:2013 Tables 43 to 46 write them (from memory) -----------------------------

    def call(self, call: Call) -> Iterator[str]:
        where = key(call.block)
        one = self.plan.names[where]
        assert one.block is not None
        pins: dict[str, str] = {}
        for argument in call.arguments:
            if isinstance(argument, Given) and argument.pin.text.upper() != "PT":
                pin = argument.pin.text.upper()
                pins[pin] = self.values.locals.get((where, f"pin {pin}"), f"a{len(pins)}")
                yield f"{pins[pin]} = {self.values.of_kind(argument.value, one.block.inputs[pin])}"
        for pin, kind in one.block.inputs.items():
            if kind is not Kind.TIME:
                pins.setdefault(pin, self.values.locals.get((where, f"pin {pin}"), ""))
        yield from self.act(where, one.type, pins)
        for argument in call.arguments:
            if not isinstance(argument, Given):
                target = self.values.locals[key(argument.target), ""]
                yield f"{target} = {self.values.output(where, argument.pin.text.upper())}"

    def act(self, where: str, kind: str, pin: Mapping[str, str]) -> Iterator[str]:
        own = {field: self.values.locals[where, field] for field in MEMORY[kind]}
        match kind:
            case "TON" | "TOF" | "TP":
                # An idle timer whose input is off stays idle: by far the most, in a long sequence.
                yield f"if {pin['IN']} or {own['phase']}:"
                yield f" {own['phase']}, t, m = {kind}[{own['phase']}][{pin['IN']}]"
                yield f" if t: started.add({self.plan.timers.index(where)})"
                yield " if m: moved = True" if self.calls[where] == 1 else " moved = True"
            case "R_TRIG":
                yield f"{own['Q']} = {pin['CLK']} and not {own['M']}"
                yield f"{own['M']} = {pin['CLK']}"
            case "F_TRIG":
                yield f"{own['Q']} = not {pin['CLK']} and not {own['M']}"
                yield f"{own['M']} = not {pin['CLK']}"
            case "SR":
                yield f"{own['Q1']} = {pin['S1']} or (not {pin['R']} and {own['Q1']})"
            case "RS":
                yield f"{own['Q1']} = not {pin['R1']} and ({pin['S']} or {own['Q1']})"
            case "CTU":
                yield f"if {pin['R']}: {own['CV']} = 0"
                most = pin["PV"] if where in self.stopping else "32767"
                yield f"elif {pin['CU']} and not {own['M']} and {own['CV']} < {most}: {own['CV']} += 1"
                yield f"{own['M']} = {pin['CU']}"
                yield f"{own['Q']} = {own['CV']} >= {pin['PV']}"
            case "CTD":
                yield f"if {pin['LD']}: {own['CV']} = {pin['PV']}"
                yield f"elif {pin['CD']} and not {own['M']} and {own['CV']} > -32768: {own['CV']} -= 1"
                yield f"{own['M']} = {pin['CD']}"
                yield f"{own['Q']} = {own['CV']} <= 0"
            case "CTUD":
                rose = {way: f"({pin[f'C{way}']} and not {own[f'M{way}']})" for way in "UD"}
                yield f"if {pin['R']}: {own['CV']} = 0"
                yield f"elif {pin['LD']}: {own['CV']} = {pin['PV']}"
                yield f"elif {rose['U']} and {rose['D']}: pass"
                yield f"elif {rose['U']} and {own['CV']} < 32767: {own['CV']} += 1"
                yield f"elif {rose['D']} and {own['CV']} > -32768: {own['CV']} -= 1"
                yield f"{own['MU']} = {pin['CU']}"
                yield f"{own['MD']} = {pin['CD']}"
                yield f"{own['QU']} = {own['CV']} >= {pin['PV']}"
                yield f"{own['QD']} = {own['CV']} <= 0"
