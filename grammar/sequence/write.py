"""The canonical text of a program: one step a line, four blanks of indentation, a blank line between blocks.

What is written reads back to the same tree; writing again changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from grammar.diagnostic import Diagnostic
from grammar.sequence import tree
from grammar.sequence.condition_text import condition_text
from grammar.sequence.names import Names
from grammar.sequence.read import read
from grammar.source import Source

__all__ = ["format_text", "write"]

_INDENT = "    "


def write(program: tree.Program) -> str:
    """The canonical text of a program, with its comments; names are spelt as their devices declare them."""
    names = Names.of(program)
    blocks: list[list[str]] = []
    before: tree.Declaration | None = None
    for declaration in program.declarations:
        lines = list(_declaration(declaration, names))
        if before is not None and _together(before, declaration):
            blocks[-1] += lines
        else:
            blocks.append(lines)
        before = declaration
    if program.comments_below:
        blocks.append(_comment_lines(program.comments_below, ""))
    return "\n\n".join("\n".join(lines) for lines in blocks) + "\n" if blocks else ""


def format_text(source: Source) -> tuple[str, tuple[Diagnostic, ...]]:
    """The text in canonical form, and what reading it found. A text with faults comes back as it is."""
    reading = read(source)
    return (write(reading.tree) if reading.sound else source.text), reading.diagnostics


def _together(before: tree.Declaration, after: tree.Declaration) -> bool:
    """Whether two declarations stand without a blank line between: devices of one line each, and rules."""
    devices, rules = tree.InputDevice | tree.LoadDevice, tree.StopRule | tree.OnFault | tree.Requirement
    return any(isinstance(before, kind) and isinstance(after, kind) for kind in (devices, rules))


def _comment_lines(comments: tuple[str, ...], indent: str) -> list[str]:
    return [f"{indent}# {c}" if c else f"{indent}#" for c in comments]


def _line(node: tree.Line, text: str, indent: str = "") -> list[str]:
    beside = f"  # {node.comments.beside}" if node.comments.beside else ""
    return [*_comment_lines(node.comments.above, indent), f"{indent}{text}{beside}"]


def _declaration(node: tree.Declaration, names: Names) -> Iterator[str]:
    match node:
        case tree.Cylinder():
            yield from _line(node, f"{node.medium} cylinder {node.name.text}")
            for item in node.items:
                yield from _line(item, _attribute(item.attribute), _INDENT)
        case tree.Cycle():
            yield from _line(node, "cycle")
            if node.trigger is not None:
                yield from _line(node.trigger, f"when {condition_text(node.trigger.condition, names)}", _INDENT)
            for step in node.steps:
                yield from _line(step, _step(step, names), _INDENT)
        case _:
            yield from _line(node, _one_line(node, names))


def _one_line(node: tree.Declaration, names: Names) -> str:
    match node:
        case tree.Machine():
            return f'machine "{node.title.text}"'
        case tree.InputDevice():
            said = node.kind == "pushbutton" or node.contact != "normally open"
            return f"{node.kind} {node.name.text}" + (f", {node.contact}" if said else "")
        case tree.LoadDevice():
            return f"{node.kind} {node.name.text}"
        case tree.Home():
            return f"home when {condition_text(node.condition, names)}"
        case tree.StopRule():
            return f"when {condition_text(node.condition, names)}, drop out everything"
        case tree.OnFault():
            return f"when a fault is shown, {_commands(node.turns, names)}"
        case tree.Never() | tree.Always():
            word = "never" if isinstance(node, tree.Never) else "always"
            while_ = f" while {condition_text(node.while_, names)}" if node.while_ is not None else ""
            return f"{word} {condition_text(node.what, names)}{while_}"
        case tree.Whenever():
            cause, effect = condition_text(node.cause, names), condition_text(node.effect, names)
            return f"whenever {cause}, {effect} within {_amount(node.within)}"
        case tree.Cylinder() | tree.Cycle():
            raise AssertionError("a block has more than one line")


def _attribute(node: tree.Attribute) -> str:
    match node:
        case tree.Bore():
            return f"bore {_amount(node.length)}"
        case tree.Rod():
            return f"rod {_amount(node.length)}"
        case tree.StrokeLength():
            return f"stroke {_amount(node.length)}"
        case tree.Flow():
            return f"flow {_amount(node.flow)}"
        case tree.TravelTime():
            upper = f" to {_amount(node.greatest)}" if node.greatest is not None else ""
            return f"{node.direction} in {_amount(node.least)}{upper}"
        case tree.SingleSolenoid():
            return f"single solenoid valve {node.solenoid.text}, spring return"
        case tree.DoubleSolenoid():
            return f"double solenoid valve {node.extends.text} extends, {node.retracts.text} retracts"
        case tree.SingleActing():
            return "single-acting"
        case tree.NormallyExtended():
            return "normally extended"
        case tree.LimitSwitch():
            return f"limit switch {_switch(node.switch)}"
        case tree.PressureSwitch():
            direction = ", retracting" if node.direction == "retracts" else ""
            return f"pressure switch {node.name.text} at {_amount(node.pressure)}{direction}{_contact(node.contact)}"


def _switch(node: tree.Switch) -> str:
    at = _amount(node.at) if isinstance(node.at, tree.Quantity) else node.at
    reset = f", reset travel {_amount(node.reset_travel)}" if node.reset_travel is not None else ""
    return f"{node.name.text} at {at}{reset}{_contact(node.contact)}"


def _contact(contact: str) -> str:
    return f", {contact}" if contact != "normally open" else ""


def _amount(quantity: tree.Quantity) -> str:
    return f"{quantity.number} {quantity.unit}"


def _step(node: tree.CycleStep, names: Names) -> str:
    text = _commands(node.commands, names)
    waits = isinstance(node.commands[-1], tree.Wait) if node.commands else False
    if node.until is not None:
        text += f" until {condition_text(node.until.condition, names)}"
    elif node.duration is not None:
        text += f" {_amount(node.duration)}" if waits else f" for {_amount(node.duration)}"
    if node.within is not None:
        text += f', within {_amount(node.within.time)} or fault "{node.within.fault.message.text}"'
    return text


def _commands(commands: tuple[tree.Command, ...], names: Names) -> str:
    """``turn on BUSY and extend A and B``: a verb is said once for commands that follow one another."""
    said: list[str] = []
    verb = ""
    for command in commands:
        match command:
            case tree.Wait():
                verb, name = command.word, ""
                said.append(verb)
                continue
            case tree.Turn():
                now, name = ("turn on" if command.on else "turn off"), names.spelt(command.load)
            case tree.Stroke():
                now, name = command.direction, names.spelt(command.actuator) if command.actuator else ""
        said.append(name if now == verb and name else f"{now} {name}".rstrip())
        verb = now
    return " and ".join(said)
