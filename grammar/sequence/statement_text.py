"""Steps and blocks of steps as lines of the canonical text."""

from __future__ import annotations

from collections.abc import Iterator

from grammar.sequence import tree
from grammar.sequence.condition_text import amount, condition_text
from grammar.sequence.lines import INDENT, line
from grammar.sequence.names import Names

__all__ = ["commands_text", "statements"]


def statements(nodes: tuple[tree.Statement, ...], names: Names, indent: str) -> Iterator[str]:
    """The lines of a row of statements, those of blocks indented under their heads."""
    for node in nodes:
        yield from _statement(node, names, indent)


def _statement(node: tree.Statement, names: Names, indent: str) -> Iterator[str]:
    match node:
        case tree.CycleStep():
            yield from line(node, _step(node, names), indent)
        case tree.Do():
            yield from line(node, f"do {names.spelt(node.routine)}", indent)
        case tree.Letters():
            yield from line(node, _letters(node, names), indent)
        case tree.Repeat():
            yield from line(node, f"repeat {_how_often(node, names)}", indent)
            yield from statements(node.steps, names, indent + INDENT)
        case tree.Together():
            # The first line of work stands under the word that begins them all.
            for n, branch in enumerate(node.branches):
                yield from line(branch if n else node, "meanwhile" if n else "together", indent)
                yield from statements(branch.steps, names, indent + INDENT)
        case tree.Choice():
            for n, case in enumerate(node.cases):
                yield from line(case if n else node, _case(case, names, first=not n), indent)
                yield from statements(case.steps, names, indent + INDENT)


def _case(node: tree.Case, names: Names, *, first: bool) -> str:
    if node.condition is None:
        return "otherwise"
    return f"{'if' if first else 'otherwise if'} {condition_text(node.condition, names)}"


def _how_often(node: tree.Repeat, names: Names) -> str:
    if node.until is not None:
        return f"until {condition_text(node.until, names)}"
    if node.while_ is not None:
        return f"while {condition_text(node.while_, names)}"
    counted = f", counted by {names.spelt(node.counter)}" if node.counter is not None else ""
    return f"{node.times} times{counted}"


def _letters(node: tree.Letters, names: Names) -> str:
    groups = [" ".join(f"{names.spelt(m.actuator)}{'+' if m.out else '-'}" for m in group) for group in node.moves]
    return " ".join(f"({g})" if len(group) > 1 else g for g, group in zip(groups, node.moves, strict=True))


def _step(node: tree.CycleStep, names: Names) -> str:
    text = commands_text(node.commands, names)
    waits = isinstance(node.commands[-1], tree.Wait) if node.commands else False
    if node.until is not None:
        text += f" until {condition_text(node.until.condition, names)}"
    elif node.duration is not None:
        text += f" {amount(node.duration)}" if waits else f" for {amount(node.duration)}"
    if node.within is not None:
        text += f', within {amount(node.within.time)} or fault "{node.within.fault.message.text}"'
    return text


def commands_text(commands: tuple[tree.Command, ...], names: Names) -> str:
    """``turn on BUSY and extend A and B``: a verb is said once for commands that follow one another."""
    said: list[str] = []
    verb = ""
    for command in commands:
        now, name, manner = _command(command, names)
        # A manner is said of each: of "extend A and B rapidly" nobody could tell whether A is meant.
        again = now == verb and name and not manner
        said.append(name if again else " ".join(filter(None, (now, name, manner))))
        verb = now if not manner and not isinstance(command, tree.Wait) else ""
    return " and ".join(said)


def _command(command: tree.Command, names: Names) -> tuple[str, str, str]:
    """The verb, what it is done to, and how."""
    match command:
        case tree.Wait():
            return command.word, "", ""
        case tree.Turn():
            return "turn on" if command.on else "turn off", names.spelt(command.load), ""
        case tree.Stroke():
            name = names.spelt(command.actuator) if command.actuator else ""
            return command.direction, name, "rapidly" if command.rapidly else ""
        case tree.Halt():
            return "stop", names.spelt(command.what), ""
        case tree.Run():
            return "run", names.spelt(command.motor), "in reverse" if command.direction == "reverse" else "forward"
        case tree.Count():
            return "clear" if command.clear else "count", names.spelt(command.counter), ""
