"""The canonical text of a program: one step a line, four blanks of indentation, a blank line between blocks.

What is written reads back to the same tree; writing again changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from grammar.diagnostic import Diagnostic
from grammar.sequence import ratings, tree
from grammar.sequence.condition_text import amount, condition_text
from grammar.sequence.lines import INDENT, comment_lines, line
from grammar.sequence.names import Names
from grammar.sequence.read import read
from grammar.sequence.statement_text import commands_text, statements
from grammar.source import Source

__all__ = ["format_text", "write"]


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
        blocks.append(comment_lines(program.comments_below, ""))
    return "\n\n".join("\n".join(lines) for lines in blocks) + "\n" if blocks else ""


def format_text(source: Source) -> tuple[str, tuple[Diagnostic, ...]]:
    """The text in canonical form, and what reading it found. A text with faults comes back as it is."""
    reading = read(source)
    return (write(reading.tree) if reading.sound else source.text), reading.diagnostics


_DEVICES = tree.InputDevice | tree.LoadDevice | tree.CounterDevice | tree.SignalDevice | tree.MotorDevice
_RULES = tree.StopRule | tree.OnFault | tree.FinishCycle | tree.FaultReset | tree.Interlock | tree.Requirement


def _together(before: tree.Declaration, after: tree.Declaration) -> bool:
    """Whether two declarations stand without a blank line between: devices of one line each, and rules."""
    if any(isinstance(n, tree.StopRule) and isinstance(n.response, tree.ReturnHome) for n in (before, after)):
        return False
    return any(isinstance(before, kind) and isinstance(after, kind) for kind in (_DEVICES, _RULES))


def _declaration(node: tree.Declaration, names: Names) -> Iterator[str]:
    match node:
        case tree.Cylinder() | tree.Pump():
            head = "hydraulic pump" if isinstance(node, tree.Pump) else f"{node.medium} cylinder {node.name.text}"
            yield from line(node, head)
            for item in node.items:
                yield from line(item, _attribute(item.attribute), INDENT)
        case tree.Cycle():
            yield from line(node, f"cycle of {node.station.text}" if node.station is not None else "cycle")
            if node.trigger is not None:
                yield from line(node.trigger, f"when {condition_text(node.trigger.condition, names)}", INDENT)
            yield from statements(node.steps, names, INDENT)
            if node.again is not None:
                yield from line(node.again, f"again while {condition_text(node.again.condition, names)}", INDENT)
        case tree.Routine():
            yield from line(node, f"routine {node.name.text}")
            yield from statements(node.steps, names, INDENT)
        case tree.StopRule(response=tree.ReturnHome(steps)):
            yield from line(node, _one_line(node, names))
            yield from statements(steps, names, INDENT)
        case _:
            yield from line(node, _one_line(node, names))


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
        case tree.CounterDevice():
            return f"counter {node.name.text}"
        case tree.SignalDevice():
            return f"signal {node.name.text}"
        case tree.MotorDevice():
            return f"{node.kind} motor {node.name.text}, {node.forward.text} forward, {node.reverse.text} reverse"
        case tree.StopRule():
            return f"when {condition_text(node.condition, names)}, {_response(node.response)}"
        case tree.FinishCycle():
            return f"stop at end of cycle when {condition_text(node.condition, names)}"
        case tree.FaultReset(tree.StateIs(device, tree.StateWord.PRESSED)):
            return f"a fault is reset by {names.spelt(device)}"
        case tree.FaultReset():
            return f"a fault is reset when {condition_text(node.condition, names)}"
        case tree.OnFault():
            return f"when a fault is shown, {commands_text(node.turns, names)}"
        case tree.OnlyWhile():
            return f"{names.spelt(node.load)} only while {condition_text(node.condition, names)}"
        case tree.NeverWith():
            return f"never {names.spelt(node.one)} with {names.spelt(node.other)}"
        case tree.Never() | tree.Always():
            word = "never" if isinstance(node, tree.Never) else "always"
            while_ = f" while {condition_text(node.while_, names)}" if node.while_ is not None else ""
            return f"{word} {condition_text(node.what, names)}{while_}"
        case tree.Whenever():
            cause, effect = condition_text(node.cause, names), condition_text(node.effect, names)
            return f"whenever {cause}, {effect} within {amount(node.within)}"
        case tree.Cylinder() | tree.Pump() | tree.Cycle() | tree.Routine():
            raise AssertionError("a block has more than one line")


def _response(node: tree.DropOut | tree.FinishStep | tree.ReturnHome) -> str:
    match node:
        case tree.DropOut():
            return "drop out everything"
        case tree.FinishStep():
            return "finish the stroke"
        case tree.ReturnHome():
            return "return home"


def _attribute(node: tree.Attribute) -> str:
    match node:
        case tree.Bore():
            return f"bore {amount(node.length)}{ratings.spread(node.spread)}"
        case tree.Rod():
            return f"rod {amount(node.length)}"
        case tree.StrokeLength():
            return f"stroke {amount(node.length)}"
        case tree.Flow():
            return f"flow {amount(node.flow)}{ratings.spread(node.spread)}"
        case tree.TravelTime():
            upper = f" to {amount(node.greatest)}" if node.greatest is not None else ""
            return f"{node.direction} in {amount(node.least)}{upper}"
        case tree.SingleSolenoid():
            return f"single solenoid valve {node.solenoid.text}, spring return"
        case tree.DoubleSolenoid():
            return f"double solenoid valve {node.extends.text} extends, {node.retracts.text} retracts"
        case tree.ThreePosition():
            sides = f"{node.extends.text} extends, {node.retracts.text} retracts"
            return f"three-position valve {sides}, {node.centre} centre"
        case tree.RapidSolenoid():
            return f"{node.kind} solenoid {node.solenoid.text}"
        case tree.SingleActing():
            return "single-acting"
        case tree.NormallyExtended():
            return "normally extended"
        case tree.LimitSwitch():
            return f"limit switch {_switch(node.switch)}"
        case tree.PressureSwitch():
            direction = ", retracting" if node.direction == "retracts" else ""
            return f"pressure switch {node.name.text} at {amount(node.pressure)}{direction}{_contact(node.contact)}"
        case _:
            return ratings.text(node)


def _switch(node: tree.Switch) -> str:
    at = amount(node.at) if isinstance(node.at, tree.Quantity) else node.at
    reset = f", reset travel {amount(node.reset_travel)}" if node.reset_travel is not None else ""
    return f"{node.name.text} at {at}{reset}{_contact(node.contact)}"


def _contact(contact: str) -> str:
    return f", {contact}" if contact != "normally open" else ""
