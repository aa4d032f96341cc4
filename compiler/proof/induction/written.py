"""A logic written out: one look at everything as text, and how looks follow each other until nothing moves.

Charts, circuits and programs are understood; of any other logic nothing is proved here.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, cast

from compiler.chart_logic import ChartLogic
from compiler.circuit import CircuitLogic
from compiler.circuit.wiring import TABLES, Wiring, coils_of
from compiler.logic import Logic, Renamed
from compiler.program.logic import ProgramLogic
from compiler.program.scan import OVERDUE
from compiler.proof.induction.chart_text import ChartText
from compiler.proof.induction.exclusive import exclusive_steps
from compiler.proof.induction.reading import Cases, NotUnderstood, Reader, Text, text_of
from compiler.timers import Phase
from grammar.rungs.tree import Kind

__all__ = ["RUNS", "Settled", "Unsettled", "Written", "written"]

RUNS = (int(Phase.RUNNING), int(Phase.RELEASED))
"""The phases in which a timer's clock runs."""

_MOST_LOOKS = 60


class Unsettled(Exception):
    """Somewhere that matters it does not settle, or not soon."""


@dataclass(frozen=True, slots=True)
class Settled:
    """What a reaction comes to: the parts of the state, the outputs, and which timers started anew, when."""

    parts: tuple[Cases, ...]
    outputs: tuple[int, ...]
    started: dict[int, int]


@dataclass(frozen=True)
class Written:
    """A logic as text. ``timers`` are the parts in which the phases of its timers stand, ``parts_of`` takes a state
    of the logic apart; there are ``parts`` of them. ``scans``: it is a program, whose timers take note of their time
    only when they are called. ``closed`` says which inputs it reads the other way round. ``counters`` are the parts
    in which a chart counts, and how far, ``exclusive`` its steps, and beside which none of them is ever active."""

    logic: Logic
    look: Text
    begin: Text | tuple[int, ...]
    timers: tuple[int, ...]
    parts_of: Callable[[Hashable], tuple[int, ...]]
    tables: Mapping[str, Hashable]
    parts: int
    scans: bool = False
    closed: tuple[bool, ...] = ()
    counters: tuple[tuple[int, int], ...] = ()
    exclusive: Mapping[int, frozenset[int]] = field(default_factory=dict)

    def power_up(self, reader: Reader, inputs: Sequence[Cases]) -> Settled:
        """The first stable situation after the supply comes on."""
        reader.started.clear()
        inputs = self._wired(reader, inputs)
        if isinstance(self.begin, tuple):
            parts: tuple[Cases, ...] = tuple({value: reader.algebra.true} for value in self.begin)
        else:
            parts, _ = reader.run(self.begin, {"i": tuple(inputs)})
        begun = dict(reader.started)
        return self._settle(reader, parts, inputs, [{False: reader.algebra.true}] * len(self.timers), begun)

    def react(
        self, reader: Reader, parts: Sequence[Cases], inputs: Sequence[Cases], expired: Sequence[Cases]
    ) -> Settled:
        """The stable situation reached from these parts. Raises Unsettled."""
        return self._settle(reader, self._late(reader, parts, expired), self._wired(reader, inputs), expired, {})

    def looked(
        self, reader: Reader, parts: Sequence[Cases], inputs: Sequence[Cases], expired: Sequence[Cases]
    ) -> tuple[tuple[Cases, ...], tuple[Cases, ...], Cases]:
        """The parts after the first look of a reaction, what the outputs then would be, and what the look tells."""
        first: Cases = {True: reader.algebra.true}
        wired = self._wired(reader, inputs)
        return self._look(reader, self._late(reader, parts, expired), wired, tuple(expired), first)

    def at_rest(self, reader: Reader, parts: Sequence[Cases], inputs: Sequence[Cases]) -> int:
        """When one more look, at these inputs, finds nothing to move."""
        no: Cases = {False: reader.algebra.true}
        after, _, told = self._look(reader, tuple(parts), self._wired(reader, inputs), (no,) * len(self.timers), no)
        return self._rests(reader, parts, after, told)

    def order_of_use(self) -> Iterator[tuple[bool, int]]:
        """The parts, True, and the inputs, False, by their places, in the order in which the text speaks of them."""
        named: dict[str, tuple[bool, int]] = {}
        for statement in self.look.function.body:
            match statement:
                case ast.Assign(targets=[ast.Tuple(elts=names)], value=ast.Name(id="s" | "i" | "state" as whole)):
                    for k, name in enumerate(names):
                        named[cast(ast.Name, name).id] = (whole != "i", k)
                case ast.Assign(
                    targets=[ast.Name(id=name_)],
                    value=ast.Subscript(value=ast.Name(id="wires"), slice=ast.Constant(value=int(k))),
                ):
                    named[name_] = (False, k)
                case _:
                    yield from (named[one.id] for one in _names(statement) if one.id in named)

    def _look(
        self,
        reader: Reader,
        parts: tuple[Cases, ...],
        inputs: Sequence[Cases],
        expired: tuple[Cases, ...],
        first: Cases,
    ) -> tuple[tuple[Cases, ...], tuple[Cases, ...], Cases]:
        arguments: dict[str, Any] = {"s": parts, "i": tuple(inputs), "e": expired, "first": first}
        if self.scans:
            arguments = {"state": parts, "wires": tuple(inputs)}
        after, outputs, told = reader.run(self.look, arguments)
        return after, outputs, told

    def _late(self, reader: Reader, parts: Sequence[Cases], expired: Sequence[Cases]) -> tuple[Cases, ...]:
        """A program's timers whose time is over, and that take note of it when they are called."""
        found = list(parts)
        for timer, over in zip(self.timers, expired, strict=True) if self.scans else ():
            due = reader.algebra.both(found[timer].get(RUNS[0], reader.algebra.false), reader.when(over))
            found[timer] = reader.chosen(due, {OVERDUE: reader.algebra.true}, found[timer])
        return tuple(found)

    def _wired(self, reader: Reader, inputs: Sequence[Cases]) -> Sequence[Cases]:
        algebra, closed = reader.algebra, self.closed or (False,) * len(inputs)
        return [
            reader.cases(algebra.no(reader.when(one))) if turned else one
            for one, turned in zip(inputs, closed, strict=True)
        ]

    def _settle(
        self,
        reader: Reader,
        parts: tuple[Cases, ...],
        inputs: Sequence[Cases],
        expired: Sequence[Cases],
        begun: Mapping[Hashable, int],
    ) -> Settled:
        """Look after look, until it is at rest wherever it matters. What is at rest stays so when it is looked at
        once more, as a rule: only after the first look, which alone sees edges and expiries, it may not."""
        algebra = reader.algebra
        no: Cases = {False: algebra.true}
        over = tuple(expired)
        first: Cases = {True: algebra.true}
        started = {timer: when for timer, when in begun.items() if isinstance(timer, int)}
        rested, shown, stays = algebra.false, tuple[Cases, ...](), False
        for number in range(_MOST_LOOKS):
            reader.started.clear()
            after, outputs, told = self._look(reader, parts, inputs, over, first)
            after = self._unmoved(reader, parts, after)
            rests = self._rests(reader, parts, after, told)
            may_start = algebra.true
            if rested != algebra.false and not stays:
                kept = self._kept(reader, rested, (*parts, *shown), (*after, *outputs))
                if kept is not None:
                    after, outputs, may_start = kept[: self.parts], kept[self.parts :], algebra.no(rested)
                stays = number == 1 and kept is None  # the next looks see no more than this one
            rests = algebra.either(rested, rests)
            for timer, when in reader.started.items():
                assert isinstance(timer, int)
                started[timer] = algebra.either(started.get(timer, algebra.false), algebra.both(when, may_start))
            if algebra.both(reader.care, algebra.no(rests)) == algebra.false:
                return self._settled(reader, after, outputs, started)
            parts, shown, rested = after, outputs, rests
            over, first = (no,) * len(self.timers), no
        raise Unsettled

    def _unmoved(self, reader: Reader, before: tuple[Cases, ...], after: tuple[Cases, ...]) -> tuple[Cases, ...]:
        """What did not move wherever it matters, as it was: that says the same more plainly."""
        algebra = reader.algebra
        if reader.care == algebra.true:
            return after

        def moved(one: Cases, other: Cases) -> bool:
            return (
                one is not other
                and algebra.both(reader.care, algebra.no(reader.same([one], [other]))) != algebra.false
            )

        return tuple(other if moved(one, other) else one for one, other in zip(before, after, strict=True))

    def _kept(
        self, reader: Reader, rested: int, before: tuple[Cases, ...], after: tuple[Cases, ...]
    ) -> tuple[Cases, ...] | None:
        """What was at rest as it was, where it would be otherwise now; None where nothing would."""
        algebra, found, moved = reader.algebra, list(after), False
        for k, (one, other) in enumerate(zip(before, after, strict=True)):
            changed = algebra.both(rested, algebra.no(reader.same([one], [other])))
            if changed != algebra.false and algebra.both(reader.care, changed) != algebra.false:
                found[k], moved = reader.chosen(rested, one, other), True
        return tuple(found) if moved else None

    def _rests(self, reader: Reader, before: Sequence[Cases], after: Sequence[Cases], told: Cases) -> int:
        """When this look was the last."""
        match self.logic:
            case ChartLogic():
                return reader.when(told)
            case ProgramLogic():
                timed = len(self.timers)
                rest = reader.same(before[timed:], after[timed:])
                no_moves = reader.algebra.no(reader.when(told))
                still = reader.algebra.either(no_moves, reader.same(before[:timed], after[:timed]))
                return reader.algebra.both(rest, still)
            case _:
                return reader.same(before, after)

    def _settled(
        self, reader: Reader, parts: tuple[Cases, ...], outputs: tuple[Cases, ...], started: dict[int, int]
    ) -> Settled:
        algebra = reader.algebra
        for timer, when in started.items():
            phases = parts[self.timers[timer]]
            started[timer] = algebra.both(when, algebra.any(phases.get(phase, algebra.false) for phase in RUNS))
        return Settled(parts, tuple(reader.when(one) for one in outputs), started)


def written(logic: Logic) -> Written:
    """A logic as text. Raises NotUnderstood for one of another kind."""
    match logic:
        case Renamed():
            return written(logic.logic)
        case ChartLogic():
            text = ChartText(logic)
            timers = tuple(range(text.first_timer, text.first_timer + len(text.timed)))
            look, begin = text_of(text.round()), text_of(text.beginning())
            first = len(text.names) - len(text.most)
            counters = tuple((first + k, most) for k, most in enumerate(text.most))
            return Written(
                logic,
                look,
                begin,
                timers,
                text.parts_of,
                _hashable(TABLES),
                len(text.names),
                counters=counters,
                exclusive=dict(enumerate(exclusive_steps(logic.chart))),
            )
        case CircuitLogic():
            coils = coils_of(logic.circuit)
            timers = tuple(k for k, device in enumerate(coils) if device.kind is Kind.TIMER)
            counting = tuple(k for k, device in enumerate(coils) if device.kind is Kind.COUNTER)
            look, parts = text_of("\n".join(_circuit_text(logic))), len(coils) + len(counting)
            return Written(logic, look, (0,) * parts, timers, _Apart(counting), _hashable(TABLES), parts)
        case ProgramLogic():
            look = text_of(logic.text.source)
            timers = tuple(range(len(logic.timers)))
            start, tables = tuple(logic.plan.start), _hashable(logic.text.tables)
            closed = logic.closed
            return Written(logic, look, start, timers, _as_it_is, tables, len(start), scans=True, closed=closed)
        case _:
            raise NotUnderstood(logic.name)


def _names(node: ast.AST) -> Iterator[ast.Name]:
    """All names in it, from left to right."""
    if isinstance(node, ast.Name):
        yield node
    for inner in ast.iter_child_nodes(node):
        yield from _names(inner)


def _as_it_is(state: Hashable) -> tuple[int, ...]:
    return cast(tuple[int, ...], state)


def _hashable(tables: Mapping[str, object]) -> Mapping[str, Hashable]:
    def fixed(table: object) -> Hashable:
        assert isinstance(table, (Hashable, list))
        return tuple(table) if isinstance(table, list) else table

    return {"bool": bool, **{name: fixed(table) for name, table in tables.items()}}


@dataclass(frozen=True, slots=True)
class _Apart:
    """A circuit's state taken apart: of a counter first what it has counted, and behind all else its count coil."""

    counters: tuple[int, ...]

    def __call__(self, state: Hashable) -> tuple[int, ...]:
        values = _as_it_is(state)
        counted = (value >> 1 if k in self.counters else value for k, value in enumerate(values))
        return (*counted, *(values[k] & 1 for k in self.counters))


def _circuit_text(logic: CircuitLogic) -> Iterator[str]:
    """One look at all coils of a circuit, as ``compiler.circuit.settling`` looks at them in groups. What a counter
    has counted and its count coil are parts of their own: the first is alike with what others count."""
    coils = coils_of(logic.circuit)
    variables = {name.casefold(): f"a{k}" for k, name in enumerate(logic.inputs)}
    variables |= {device.name.text.casefold(): f"c{k}" for k, device in enumerate(coils)}
    wiring = Wiring.of(logic.circuit, variables)
    yield "def look(s, i, e, first):"
    counters = [k for k, device in enumerate(coils) if device.kind is Kind.COUNTER]
    state = [*(f"{'u' if k in counters else 'c'}{k}" for k in range(len(coils))), *(f"l{k}" for k in counters)]
    wires, clocks = (
        [f"{letter}{k}" for k in range(len(of))] for letter, of in (("a", logic.inputs), ("e", logic.timers))
    )
    for names, whole in ((state, "s"), (wires, "i"), (clocks, "e")):
        if names:
            yield f"    ({''.join(f'{name}, ' for name in names)}) = {whole}"
    for k in counters:
        yield f"    c{k} = u{k} + u{k} + l{k}"
    clock = 0
    for k, device in enumerate(coils):
        timed = device.kind is Kind.TIMER
        yield f"    n{k} = {wiring.following(device, f'e{clock}' if timed else 'False')}"
        if timed:
            yield f"    if n{k} & 1: started.add({clock})"
            yield f"    n{k} >>= 1"
            clock += 1
    after = "".join(f"n{k}{' >> 1' if k in counters else ''}, " for k in range(len(coils)))
    after += "".join(f"n{k} & 1, " for k in counters)
    loads = "".join(f"{wiring.live(name)}, " for name in logic.outputs)
    yield f"    return ({after}), ({loads}), True"
