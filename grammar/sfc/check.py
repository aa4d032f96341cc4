"""Whether a function chart hangs together: names, the initial step, what can be reached, qualifiers, flags."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from grammar.diagnostic import Diagnostic, nearest
from grammar.sfc.faults import fault, notice
from grammar.sfc.flags import is_flag, is_time, reached
from grammar.sfc.tree import Network, Step
from grammar.structured_text.blocks import Kind
from grammar.structured_text.declared import Declared, declared, key, statements
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
    Statement,
    Unit,
)

__all__ = ["MOST_SITUATIONS", "Move", "by_source", "check", "situations", "variables"]

MOST_SITUATIONS = 2000


def check(network: Network) -> list[Diagnostic]:
    """Every fault in how a chart hangs together, and what is questionable in it."""
    names = variables(network)
    told = [*_names(network, names), *_unknown_steps(network), *_actions(network, names)]
    steps = {key(step.name) for step in network.steps}
    told += [one for value in _expressions(network) for one in _times(value, steps)]
    told += _written_flags(network, steps)
    if not any(step.initial for step in network.steps):
        span = network.steps[0].name.span if network.steps else network.name.span
        return [*told, fault("RW534", "no step is initial", span, cure="write INITIAL_STEP for the first one")]
    return told if told else [*_unreached(network), *_unsafe(network)]


def variables(network: Network) -> dict[str, Declared]:
    """The variables a chart declares, by key."""
    return declared(Unit(network.kind, network.name, network.sections, (), network.shared))


def _names(network: Network, names: dict[str, Declared]) -> Iterator[Diagnostic]:
    """A step, an action or a transition that has the name of something else."""
    taken = {where: one.name.text for where, one in names.items()}
    own = [step.name for step in network.steps]
    own += [action.name for action in network.actions]
    own += [transition.name for transition in network.transitions if transition.name is not None]
    for name in own:
        if key(name) in taken:
            yield fault(
                "RW533", f"{name.text} is the name of something already", name.span, cure="rename one of them"
            )
        taken.setdefault(key(name), name.text)


def _unknown_steps(network: Network) -> Iterator[Diagnostic]:
    known = {key(step.name): step.name.text for step in network.steps}
    for transition in network.transitions:
        for name in (*transition.sources, *transition.targets):
            if key(name) not in known:
                near = nearest(name.text, list(known.values()))
                cure = f"did you mean {near}?" if near else "write it as a STEP"
                yield fault("RW532", f"there is no step {name.text}", name.span, cure=cure)


def _actions(network: Network, names: dict[str, Declared]) -> Iterator[Diagnostic]:
    bodies = {key(action.name): action.name.text for action in network.actions}
    timed: dict[str, str] = {}
    for association in (one for step in network.steps for one in step.associations):
        name = association.action
        where = key(name)
        one = names.get(where)
        if where not in bodies and where not in network.lost and (one is None or one.kind is not Kind.BOOL):
            near = nearest(name.text, [*bodies.values(), *(v.name.text for v in names.values())])
            cure = f"did you mean {near}?" if near else f"write ACTION {name.text}, or declare it BOOL"
            yield fault("RW532", f"there is no action {name.text}", name.span, cure=cure)
        if association.qualifier.timed:
            if where in timed:
                message = f"{name.text} has a qualifier with a time already"
                yield fault("RW537", message, name.span, cure="use an action for each time")
            timed[where] = name.text


# --- flags and times ------------------------------------------------------------------------------------------


def _expressions(network: Network) -> Iterator[Expression]:
    yield from (transition.condition for transition in network.transitions)
    for action in network.actions:
        for statement in statements(action.body):
            yield from _values(statement)


def _values(statement: Statement) -> Iterator[Expression]:
    match statement:
        case Assignment(value=value) | PinAssignment(value=value):
            yield value
        case Call(arguments=arguments):
            yield from (argument.value for argument in arguments if isinstance(argument, Given))
        case IfStatement(branches=branches):
            yield from (branch.condition for branch in branches)
        case CaseStatement(selector=selector):
            yield selector
        case _:
            pass


def _times(value: Expression, steps: set[str]) -> Iterator[Diagnostic]:
    """What is wrong with the flags and times of steps in an expression."""
    match value:
        case Chain() if reached(value, steps) is not None:
            return
        case Chain(first=first, links=links):
            for part in (first, *(link.operand for link in links)):
                yield from _times(part, steps)
        case Negation(of=of) | Negative(of=of):
            yield from _times(of, steps)
        case Pin(block=block, pin=pin) if is_time(value, steps):
            cure = f"write {block.text}.{pin.text} >= T#4s"
            yield fault("RW538", "the time of a step is only compared with a constant", value.span, cure=cure)
        case Pin(block=block) if key(block) in steps and not is_flag(value, steps):
            message = f"a step has no {value.pin.text}"
            yield fault("RW538", message, value.span, expected=f"{block.text}.X or {block.text}.T")
        case _:
            pass


def _written_flags(network: Network, steps: set[str]) -> Iterator[Diagnostic]:
    for action in network.actions:
        for statement in statements(action.body):
            if isinstance(statement, PinAssignment) and key(statement.pin.block) in steps:
                cure = "a transition makes a step active"
                yield fault("RW538", "what a step is can't be written to", statement.pin.span, cure=cure)


# --- the ways through it --------------------------------------------------------------------------------------

Move = tuple[frozenset[str], frozenset[str]]
"""The steps a transition leaves and those it leads to."""


def _unreached(network: Network) -> Iterator[Diagnostic]:
    there = {key(step.name) for step in network.steps if step.initial}
    moves = _moves(network)
    while True:
        more = {step for sources, targets in moves if sources <= there for step in targets} - there
        if not more:
            break
        there |= more
    for step in network.steps:
        if key(step.name) not in there:
            cure = "write the transition that leads to it, or take it out"
            yield fault("RW535", f"no way leads to {step.name.text}", step.name.span, cure=cure)


def _unsafe(network: Network) -> Iterator[Diagnostic]:
    """Steps entered while they are active, as far as so many situations show it."""
    names = {key(step.name): step.name for step in network.steps}
    moves = _moves(network)
    leaving = by_source(moves)
    found: dict[str, Name] = {}
    for part in _parts(network.steps, moves):
        begin = frozenset(key(step.name) for step in network.steps if step.initial) & part
        for situation in situations(begin, leaving):
            for sources, targets in (move for step in situation for move in leaving.get(step, ())):
                if sources <= situation:
                    found |= {step: names[step] for step in targets & (situation - sources)}
    for name in found.values():
        cure = "join the branches of parallel work before it"
        yield notice("RW536", f"{name.text} may become active while it is active", name.span, cure=cure)


def _moves(network: Network) -> list[Move]:
    return [(frozenset(map(key, one.sources)), frozenset(map(key, one.targets))) for one in network.transitions]


def _parts(steps: Iterable[Step], moves: Iterable[Move]) -> list[set[str]]:
    """The steps that hang together."""
    part = {key(step.name): {key(step.name)} for step in steps}
    for sources, targets in moves:
        first, *others = {id(part[step]): part[step] for step in sources | targets}.values()
        for other in others:
            first, other = (first, other) if len(first) >= len(other) else (other, first)
            first |= other
            part |= dict.fromkeys(other, first)
    return list({id(one): one for one in part.values()}.values())


def by_source(moves: Iterable[Move]) -> dict[str, list[Move]]:
    """Every move, under one of the steps it leaves: in a long chart few are looked at."""
    found: dict[str, list[Move]] = {}
    for move in moves:
        found.setdefault(min(move[0]), []).append(move)
    return found


def situations(begin: frozenset[str], leaving: Mapping[str, Sequence[Move]]) -> Iterator[frozenset[str]]:
    """The sets of steps that can be active together from a beginning, whatever the conditions: the first so many."""
    seen, waiting = {begin}, [begin]
    while waiting and len(seen) <= MOST_SITUATIONS:
        now = waiting.pop()
        yield now
        for sources, targets in (move for step in now for move in leaving.get(step, ())):
            after = now - sources | targets
            if sources <= now and after not in seen:
                seen.add(after)
                waiting.append(after)
