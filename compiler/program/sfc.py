"""A sequential function chart as one scan of structured text, so that it becomes a Logic like any other program.

A scan goes: the times of the steps; every action by its qualifiers, then its body; the transitions, all judged by the
steps as they stood; then all that clear, clear at one moment (IEC 61131-3:2003 2.6.5, from memory). Of transitions
that leave one step together only the one with the least priority number clears, of equal ones the first written.

Names given here hold a point or a blank, as no name that is declared can. Every node bears the place it came from, so
that what is wrong is told there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from compiler.program.sfc_actions import Control
from compiler.program.sfc_words import assign, boolean, conjunction, disjunction, negation, variable
from grammar.sfc.check import variables
from grammar.sfc.flags import is_flag, reached
from grammar.sfc.tree import Network, Transition
from grammar.source import Span
from grammar.structured_text.declared import key
from grammar.structured_text.tree import (
    Assignment,
    Boolean,
    Branch,
    Call,
    CaseStatement,
    Chain,
    Declaration,
    Entry,
    Expression,
    Given,
    IfStatement,
    Link,
    Name,
    Negation,
    Negative,
    Pin,
    PinAssignment,
    Section,
    Statement,
    Unit,
)
from grammar.structured_text.write import expression as words_of

__all__ = ["program_of"]


def program_of(network: Network) -> Unit:
    """The scan of a chart. What is at fault in the chart itself is left out; faults in its actions and conditions
    stay, to be told by ``grammar.structured_text.check``."""
    run = _Run(network)
    transitions = list(run.transitions())
    actions = list(run.actions())
    own = Section("VAR", (), tuple(run.declared), span=network.name.span)
    body = (*run.times(), *actions, *transitions, *run.evolution())
    return Unit(network.kind, network.name, (*network.sections, own), body, network.shared, span=network.span)


@dataclass(frozen=True, slots=True)
class _Time:
    """``S1.T >= T#4s``: the block that measures it, and what is true from then on until the step begins anew."""

    step: Name
    time: Expression
    block: str
    flag: str


@dataclass
class _Run:
    network: Network
    declared: list[Declaration] = field(default_factory=list)
    steps: dict[str, str] = field(init=False)  # the flag of each step, by its key
    known: dict[str, _Time] = field(default_factory=dict)
    kept: set[str] = field(default_factory=set)  # times that are looked at while their step is not active

    def __post_init__(self) -> None:
        self.steps = {}
        for step in self.network.steps:
            if key(step.name) not in self.steps:
                self.steps[key(step.name)] = f"{step.name.text}.X"
                self.flag(f"{step.name.text}.X", step.name.span, initial=step.initial)

    def flag(self, name: str, span: Span, *, initial: bool = False) -> str:
        """A new variable that is TRUE or FALSE."""
        value = Boolean(True, span=span) if initial else None
        self.declared.append(Declaration((Name(name, span=span),), Name("BOOL", span=span), value, span=span))
        return name

    def block(self, name: str, kind: str, span: Span) -> str:
        """A new standard block."""
        self.declared.append(Declaration((Name(name, span=span),), Name(kind, span=span), span=span))
        return name

    # --- times --------------------------------------------------------------------------------------------

    def times(self) -> Iterator[Statement]:
        """Every time is measured from the moment its step became active, and is kept when the step is left (IEC
        61131-3:2003 2.6.2, from memory)."""
        for one in self.known.values():
            span, active = one.time.span, variable(self.steps[key(one.step)], one.step.span)
            given = (Given(Name("IN", span=span), active), Given(Name("PT", span=span), one.time))
            yield Call(Name(one.block, span=span), given, span=span)
            if one.flag in self.kept:
                held = assign(one.flag, Pin(Name(one.block, span=span), Name("Q", span=span), span=span), span)
                yield IfStatement((Branch(active, (held,), span=span),), span=span)

    def over(self, step: Name, time: Expression, sources: Iterable[str]) -> Expression:
        """That a step has been active so long; in a transition that leaves it, it is active for sure."""
        name = f"{step.text}.T >= {words_of(time)}"
        one = self.known.get(name.casefold())
        if one is None:
            one = _Time(step, time, self.block(f"{name}: time", "TON", time.span), name)
            self.known[name.casefold()] = one
        if key(step) in sources:
            return Pin(Name(one.block, span=time.span), Name("Q", span=time.span), span=time.span)
        if one.flag not in self.kept:
            self.kept.add(self.flag(one.flag, time.span))
        return variable(one.flag, time.span)

    # --- expressions and statements, with flags and times in place of S1.X and S1.T -----------------------

    def value(self, value: Expression, sources: frozenset[str] = frozenset()) -> Expression:
        """``sources`` are steps without which the whole is not looked at, so that they are active for sure."""
        match value:
            case Chain(first=first, links=links):
                compared = reached(value, self.steps)
                if compared is not None:
                    there = self.over(compared.step, compared.time, sources)
                    return negation(there) if compared.negated else there
                sure = sources
                if all(link.operator == "AND" for link in links):
                    parts = [first, *(link.operand for link in links)]
                    sure |= {key(p.block) for p in parts if isinstance(p, Pin) and is_flag(p, self.steps)}
                rest = tuple(Link(link.operator, self.value(link.operand, sure)) for link in links)
                return Chain(self.value(first, sure), rest, span=value.span)
            case Negation(of=of):
                return Negation(self.value(of, sources), span=value.span)
            case Negative(of=of):
                return Negative(self.value(of, sources), span=value.span)
            case Pin(block=block) if key(block) in self.steps:
                if is_flag(value, self.steps):
                    return variable(self.steps[key(block)], value.span)
                return boolean(value.span)  # a fault, which has been told
            case _:
                return value

    def statements(self, body: Iterable[Statement]) -> tuple[Statement, ...]:
        return tuple(self.statement(one) for one in body)

    def statement(self, one: Statement) -> Statement:
        match one:
            case Assignment(target=target, value=value):
                return Assignment(target, self.value(value), span=one.span)
            case PinAssignment(pin=pin, value=value):
                return PinAssignment(pin, self.value(value), span=one.span)
            case Call(block=block, arguments=arguments):
                given = tuple(
                    Given(a.pin, self.value(a.value), span=a.span) if isinstance(a, Given) else a for a in arguments
                )
                return Call(block, given, span=one.span)
            case IfStatement(branches=branches, otherwise=otherwise):
                changed = tuple(
                    Branch(self.value(b.condition), self.statements(b.body), span=b.span) for b in branches
                )
                return IfStatement(changed, None if otherwise is None else self.statements(otherwise), span=one.span)
            case CaseStatement(selector=selector, entries=entries, otherwise=otherwise):
                inside = tuple(Entry(e.labels, self.statements(e.body), span=e.span) for e in entries)
                rest = None if otherwise is None else self.statements(otherwise)
                return CaseStatement(self.value(selector), inside, rest, span=one.span)
            case _:
                return one

    # --- actions ------------------------------------------------------------------------------------------

    def actions(self) -> Iterator[Statement]:
        """BOOL variables first, then bodies in the order in which they are written."""
        bodies = {key(action.name) for action in self.network.actions}
        names = variables(self.network)
        controls: dict[str, Control] = {}
        for step in self.network.steps:
            for one in step.associations:
                control = controls.setdefault(key(one.action), Control(one.action))
                control.add(one, self.steps[key(step.name)], step.name.span)
        for where, control in controls.items():
            if where in names and where not in bodies:
                yield from control.prepare(self.flag, self.block)
                yield assign(control.name.text, control.on(), control.name.span)
        for action in self.network.actions:
            control = controls.get(key(action.name), Control(action.name))
            body = self.statements(action.body)
            yield from control.prepare(self.flag, self.block)
            yield IfStatement((Branch(control.on(), body, span=action.name.span),), span=action.span)

    # --- evolution ----------------------------------------------------------------------------------------

    def transitions(self) -> Iterator[Statement]:
        """Which transitions clear, each judged after those that go before it."""
        before: dict[str, list[str]] = {}
        for number, one in self.ranked:
            sources = [key(name) for name in one.sources]
            span = one.sources[0].span
            active = [variable(self.steps[where], span) for where in sources]
            first = dict.fromkeys(name for where in sources for name in before.get(where, ()))
            free = [negation(variable(name, span)) for name in first]
            condition = self.value(one.condition, frozenset(sources))
            name = self.flag(self.clears(number), span)
            yield assign(name, conjunction([*active, condition, *free]), one.span)
            for where in sources:
                before.setdefault(where, []).append(name)

    @property
    def ranked(self) -> list[tuple[int, Transition]]:
        """The transitions between known steps with their numbers, by priority; those without one come last."""
        listed = [
            (number, one)
            for number, one in enumerate(self.network.transitions)
            if all(key(name) in self.steps for name in (*one.sources, *one.targets))
        ]
        return sorted(listed, key=lambda pair: (pair[1].priority is None, pair[1].priority or 0, pair[0]))

    def clears(self, number: int) -> str:
        named = self.network.transitions[number].name
        return f"{named.text} clears" if named is not None else f"transition {number + 1} clears"

    def evolution(self) -> Iterator[Statement]:
        """A step is active that is entered, or that was active and is not left."""
        entering: dict[str, list[str]] = {}
        leaving: dict[str, list[str]] = {}
        for number, one in self.ranked:
            for name in one.targets:
                entering.setdefault(key(name), []).append(self.clears(number))
            for name in one.sources:
                leaving.setdefault(key(name), []).append(self.clears(number))
        for step in self.network.steps:
            where, span = key(step.name), step.name.span
            stays = [variable(self.steps[where], span), *_none(leaving.get(where, ()), span)]
            entered = [variable(name, span) for name in entering.get(where, ())]
            yield assign(self.steps[where], disjunction([*entered, conjunction(stays)]), span)


def _none(names: Sequence[str], span: Span) -> list[Expression]:
    """That none of these is true."""
    return [negation(disjunction([variable(name, span) for name in names]))] if names else []
