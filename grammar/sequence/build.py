"""From lark's parse tree of one clause to nodes. Nothing is judged here; depth is limited before we come here."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, TypeVar

from grammar.layout import Clause
from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.sequence.words import NUMBER, unit
from grammar.source import Span

if TYPE_CHECKING:
    from lark import Token, Tree

__all__ = ["NODES", "ClauseNode", "build"]

NODES: dict[str, type[tree.Node]] = {
    "machine": tree.Machine,
    "cylinder": part.CylinderHead,
    "input_device": tree.InputDevice,
    "load_device": tree.LoadDevice,
    "contact": part.Contact,
    "another": part.Another,
    "bore": tree.Bore,
    "rod": tree.Rod,
    "stroke_length": tree.StrokeLength,
    "flow": tree.Flow,
    "travel_time": tree.TravelTime,
    "single_solenoid": tree.SingleSolenoid,
    "spring_return": part.SpringReturn,
    "double_solenoid": part.DoubleSides,
    "side": part.Side,
    "single_acting": tree.SingleActing,
    "normally_extended": tree.NormallyExtended,
    "limit_places": part.LimitPlaces,
    "pressure_places": part.PressurePlaces,
    "place": part.Place,
    "direction": part.Direction,
    "reset_travel": part.ResetTravel,
    "cycle_head": part.CycleHead,
    "steps": part.Steps,
    "cycle_step": part.StepClause,
    "stroke": tree.Stroke,
    "turn": tree.Turn,
    "wait": tree.Wait,
    "until": tree.Until,
    "duration": part.Duration,
    "within": part.WithinClause,
    "fault": part.FaultClause,
    "when": part.When,
    "when_fault": part.WhenFault,
    "drop_out": tree.DropOut,
    "home": tree.Home,
    "never": tree.Never,
    "always": tree.Always,
    "whenever": tree.Whenever,
    "leads_to": tree.Whenever,
    "any_of": tree.AnyOf,
    "all_of": tree.AllOf,
    "not_cond": tree.NotCond,
    "sustained": tree.Sustained,
    "state_is": tree.StateIs,
    "after": tree.After,
    "name": tree.Name,
    "text": tree.Text,
    "quantity": tree.Quantity,
}
"""Every rule of the grammar and the node it becomes (``state_is`` may also become a PlaceIs)."""

ClauseNode = tree.Node
_NUMBER = re.compile(NUMBER)
_OPPOSITE = {
    "pressed": "released",
    "held": "released",
    "released": "held",
    "made": "not made",
    "not made": "made",
    "on": "off",
    "off": "on",
    "open": "closed",
    "closed": "open",
}
_STATES = {
    "UNMADE": "not made",
    "AT_END": "at-end",
    "AT_HOME": "at-home",
    "EXTENDED": "at-end",
    "RETRACTED": "at-home",
}
_CONTACTS = {"NORMALLY_OPEN": "normally open", "NORMALLY_CLOSED": "normally closed"}
_DIRECTIONS = {"EXTENDING": "extends", "RETRACTING": "retracts"}


def build(parsed: Tree[Token], clause: Clause) -> ClauseNode:
    """The node a parsed clause becomes, with its places in the source."""
    return _Builder(clause).node(parsed)


class _Builder:
    def __init__(self, clause: Clause) -> None:
        self.clause = clause

    def span(self, parsed: Tree[Token]) -> Span:
        meta = parsed.meta
        return self.clause.span(meta.start_pos, meta.end_pos) if not meta.empty else self.clause.span()

    def nodes(self, parsed: Tree[Token]) -> list[tree.Node]:
        return [self.node(c) for c in _trees(parsed)]

    def node(self, parsed: Tree[Token]) -> tree.Node:
        span = self.span(parsed)
        match str(parsed.data):
            case "name" | "text" | "quantity" as rule:
                return self._leaf(rule, parsed, span)
            case "any_of" | "all_of" | "not_cond" | "sustained" | "state_is" | "after" as rule:
                return self._condition(rule, parsed, span)
            case (
                "cycle_step"
                | "steps"
                | "stroke"
                | "turn"
                | "wait"
                | "until"
                | "duration"
                | "within"
                | "fault" as rule
            ):
                return self._cycle(rule, parsed, span)
            case "when" | "when_fault" | "drop_out" | "home" | "cycle_head" as rule:
                return self._rule(rule, parsed, span)
            case "never" | "always" | "whenever" | "leads_to" as rule:
                return self._requirement(rule, parsed, span)
            case "machine" | "cylinder" | "input_device" | "load_device" | "contact" | "another" as rule:
                return self._device(rule, parsed, span)
            case rule:
                return self._attribute(rule, parsed, span)

    def _leaf(self, rule: str, parsed: Tree[Token], span: Span) -> tree.Node:
        token = _tokens(parsed)[-1]
        match rule:
            case "name":
                # Only the word itself is underlined, not an article before it.
                word = self.clause.span(token.start_pos or 0, token.end_pos)
                return tree.Name(unicodedata.normalize("NFC", str(token)), span=word)
            case "text":
                return tree.Text(str(token)[1:-1].strip(), span=span)
            case _:
                return _quantity(str(token), span)

    def _condition(self, rule: str, parsed: Tree[Token], span: Span) -> tree.Cond:
        if rule == "state_is":
            return self._state(parsed, span)
        inner = self.nodes(parsed)
        match rule:
            case "any_of":
                return tree.AnyOf(tuple(_cond(n) for n in inner), span=span)
            case "all_of":
                return tree.AllOf(tuple(_cond(n) for n in inner), span=span)
            case "not_cond":
                return tree.NotCond(_cond(inner[0]), span=span)
            case "sustained":
                return tree.Sustained(_cond(inner[0]), _as(tree.Quantity, inner[1]), span=span)
            case _:
                return tree.After(_as(tree.Quantity, inner[0]), span=span)

    def _state(self, parsed: Tree[Token], span: Span) -> tree.Cond:
        names = [_as(tree.Name, n) for n in self.nodes(parsed)]
        kinds = [t.type for t in _tokens(parsed)]
        negated = _NEGATIVE & set(kinds) != set()
        states = [k for k in kinds if k not in _NEGATIVE]
        word = (_STATES.get(states[-1]) or states[-1].lower()) if states else "made"
        if word in ("at-end", "at-home"):
            return tree.PlaceIs(names[0] if names else None, word, negated, span=span)
        return tree.StateIs(names[0], _OPPOSITE[word] if negated else word, span=span)

    def _cycle(self, rule: str, parsed: Tree[Token], span: Span) -> tree.Node:
        inner = self.nodes(parsed)
        kinds = [t.type for t in _tokens(parsed)]
        match rule:
            case "steps":
                return part.Steps(tuple(_as(part.StepClause, n) for n in inner), span=span)
            case "cycle_step":
                return _step(inner, span)
            case "stroke":
                direction = "extend" if "EXTEND" in kinds else "retract"
                return tree.Stroke(direction, _as(tree.Name, inner[0]) if inner else None, span=span)
            case "turn":
                return tree.Turn(bool({"TURN_ON", "ON"} & set(kinds)), _as(tree.Name, inner[0]), span=span)
            case "wait":
                return tree.Wait(kinds[0].lower(), span=span)
            case "until":
                return tree.Until(_cond(inner[0]), span=span)
            case "duration":
                return part.Duration(_as(tree.Quantity, inner[0]), "FOR" not in kinds, span=span)
            case "within":
                message = _as(part.FaultClause, inner[1]).message if len(inner) > 1 else None
                return part.WithinClause(_as(tree.Quantity, inner[0]), message, span=span)
            case _:
                return part.FaultClause(_as(tree.Text, inner[0]), span=span)

    def _rule(self, rule: str, parsed: Tree[Token], span: Span) -> tree.Node:
        inner = self.nodes(parsed)
        match rule:
            case "when":
                response = _as(tree.DropOut, inner[1]) if len(inner) > 1 else None
                return part.When(_cond(inner[0]), response, span=span)
            case "when_fault":
                return part.WhenFault(span=span)
            case "drop_out":
                return tree.DropOut(span=span)
            case "home":
                return tree.Home(_cond(inner[0]), span=span)
            case _:
                return part.CycleHead(span=span)

    def _requirement(self, rule: str, parsed: Tree[Token], span: Span) -> tree.Requirement:
        what, *more = self.nodes(parsed)
        match rule:
            case "never":
                return tree.Never(_cond(what), _cond(more[0]) if more else None, span=span)
            case "always":
                return tree.Always(_cond(what), _cond(more[0]) if more else None, span=span)
            case _:
                time, effect = sorted(more, key=lambda node: not isinstance(node, tree.Quantity))
                return tree.Whenever(_cond(what), _cond(effect), _as(tree.Quantity, time), span=span)

    def _device(self, rule: str, parsed: Tree[Token], span: Span) -> tree.Node:
        inner = self.nodes(parsed)
        kinds = [t.type for t in _tokens(parsed)]
        names = [n for n in inner if isinstance(n, tree.Name)]
        contacts = [n.form for n in inner if isinstance(n, part.Contact)]
        match rule:
            case "machine":
                return tree.Machine(_as(tree.Text, inner[0]), span=span)
            case "cylinder":
                return part.CylinderHead(kinds[0].lower(), names[0], span=span)
            case "input_device":
                contact = contacts[-1] if contacts else "normally open"
                return tree.InputDevice(kinds[0].lower(), names[0], contact, span=span)
            case "load_device":
                return tree.LoadDevice(kinds[0].lower(), names[0], span=span)
            case "contact":
                return part.Contact(_CONTACTS[kinds[0]], span=span)
            case _:
                return part.Another(names[0], contacts[-1] if contacts else None, span=span)

    def _attribute(self, rule: str, parsed: Tree[Token], span: Span) -> tree.Node:
        inner = self.nodes(parsed)
        kinds = [t.type for t in _tokens(parsed)]
        names = [n for n in inner if isinstance(n, tree.Name)]
        amounts = [n for n in inner if isinstance(n, tree.Quantity)]
        match rule:
            case "bore":
                return tree.Bore(amounts[0], span=span)
            case "rod":
                return tree.Rod(amounts[0], span=span)
            case "stroke_length":
                return tree.StrokeLength(amounts[0], span=span)
            case "flow":
                return tree.Flow(amounts[0], span=span)
            case "reset_travel":
                return part.ResetTravel(amounts[0], span=span)
            case "travel_time":
                return self._travel(parsed, amounts, span)
            case "single_solenoid":
                return tree.SingleSolenoid(names[0], span=span)
            case "double_solenoid":
                return part.DoubleSides(tuple(_as(part.Side, n) for n in inner), span=span)
            case "side":
                return part.Side(names[0], kinds[0].lower(), span=span)
            case "limit_places":
                return part.LimitPlaces(_as(part.Place, inner[0]), span=span)
            case "pressure_places":
                return part.PressurePlaces(_as(part.Place, inner[0]), span=span)
            case "place":
                return _place(inner, kinds, span)
            case "direction":
                return part.Direction(_DIRECTIONS.get(kinds[0], kinds[0].lower()), span=span)
            case "spring_return":
                return part.SpringReturn(span=span)
            case "single_acting":
                return tree.SingleActing(span=span)
            case _:
                return tree.NormallyExtended(span=span)

    def _travel(self, parsed: Tree[Token], amounts: list[tree.Quantity], span: Span) -> tree.TravelTime:
        tokens = _tokens(parsed)
        direction = tokens[0].type.lower()
        if len(tokens) > 1:  # "4 to 6 s": both numbers have the unit of the second
            number = tokens[1]
            place = self.clause.span(number.start_pos or 0, number.end_pos)
            least = tree.Quantity(_plain_number(str(number)), amounts[0].unit, span=place)
            return tree.TravelTime(direction, least, amounts[0], span=span)
        return tree.TravelTime(direction, amounts[0], amounts[1] if len(amounts) > 1 else None, span=span)


_N = TypeVar("_N")
_NEGATIVE = {"IS_NOT", "NOT"}


def _trees(parsed: Tree[Token]) -> list[Tree[Token]]:
    return [c for c in parsed.children if not isinstance(c, str)]


def _tokens(parsed: Tree[Token]) -> list[Token]:
    """The words kept in the tree; a Token is a string that knows its place."""
    return [c for c in parsed.children if isinstance(c, str)]


def _as(kind: type[_N], node: object) -> _N:
    assert isinstance(node, kind), f"the grammar promises a {kind.__name__} here, not {node!r}"
    return node


def _cond(node: object) -> tree.Cond:
    assert isinstance(node, tree.Cond), f"the grammar promises a condition here, not {node!r}"
    return node


def _plain_number(number: str) -> str:
    return f"0{number}" if number.startswith(".") else number


def _quantity(text: str, span: Span) -> tree.Quantity:
    found = _NUMBER.match(text)
    assert found is not None
    return tree.Quantity(_plain_number(found[0]), unit(text[found.end() :].strip(" ")), span=span)


def _place(inner: list[tree.Node], kinds: list[str], span: Span) -> part.Place:
    at: str | tree.Quantity = "end" if "AT_END" in kinds else "home"
    direction = contact = None
    for node in inner[1:]:
        match node:
            case tree.Quantity():
                at = node
            case part.Direction():
                direction = node.word
            case part.Contact():
                contact = node.form
            case _:
                pass
    return part.Place(_as(tree.Name, inner[0]), at, direction, contact, span=span)


def _step(inner: list[tree.Node], span: Span) -> part.StepClause:
    commands: list[tree.Command] = []
    until = timed = within = astray = None
    for node in inner:
        match node:
            case tree.Stroke() | tree.Turn() | tree.Wait():
                commands.append(node)
            case tree.Name():
                before = commands[-1]
                if isinstance(before, tree.Wait):
                    astray = node
                else:
                    commands.append(_again(before, node))
            case tree.Until():
                until = node
            case part.Duration():
                timed = node
            case part.WithinClause():
                within = node
            case _:
                pass
    duration = timed.time if timed else None
    step = tree.CycleStep(tuple(commands), until, duration, span=span)
    return part.StepClause(step, timed if timed and timed.bare else None, within, astray, span=span)


def _again(command: tree.Stroke | tree.Turn, name: tree.Name) -> tree.Command:
    """``extend A and B``: the verb before is meant again."""
    match command:
        case tree.Stroke():
            return tree.Stroke(command.direction, name, span=name.span)
        case tree.Turn():
            return tree.Turn(command.on, name, span=name.span)
