"""From parsed rules to the nodes of devices and of the lines of a cylinder."""

from __future__ import annotations

import re

from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.sequence.parsed import Parsed, a
from grammar.sequence.words import NUMBER, unit
from grammar.source import Span

__all__ = ["attribute", "device", "quantity"]

_NUMBER = re.compile(NUMBER)
_CONTACTS = {"NORMALLY_OPEN": "normally open", "NORMALLY_CLOSED": "normally closed"}
_DIRECTIONS = {"EXTENDING": "extends", "RETRACTING": "retracts"}


def device(parsed: Parsed) -> tree.Node:
    """A device, the contact after it, or one more of the same kind."""
    kinds, names, span = parsed.kinds, parsed.names, parsed.span
    contacts = [n.form for n in parsed.every(part.Contact)]
    match parsed.rule:
        case "machine":
            return tree.Machine(a(tree.Text, parsed.inner[0]), span=span)
        case "cylinder":
            return part.CylinderHead(kinds[0].lower(), names[0], span=span)
        case "input_device":
            contact = contacts[-1] if contacts else "normally open"
            return tree.InputDevice(kinds[0].lower(), names[0], contact, span=span)
        case "load_device":
            return tree.LoadDevice(kinds[0].lower(), names[0], span=span)
        case "counter_device":
            return tree.CounterDevice(names[0], span=span)
        case "signal_device":
            return tree.SignalDevice(names[0], span=span)
        case "motor_head":
            return part.MotorHead(kinds[0].lower(), names[0], span=span)
        case "motor_sides":
            return part.MotorSides(tuple(parsed.every(part.MotorSide)), span=span)
        case "motor_side":
            return part.MotorSide(names[0], kinds[0].lower(), span=span)
        case "contact":
            return part.Contact(_CONTACTS[kinds[0]], span=span)
        case _:
            return part.Another(names[0], contacts[-1] if contacts else None, span=span)


def attribute(parsed: Parsed) -> tree.Node:
    """A line of a cylinder, or part of one."""
    inner, kinds, names, amounts, span = parsed.inner, parsed.kinds, parsed.names, parsed.amounts, parsed.span
    spread = next((n.share for n in parsed.every(part.GiveOrTake)), None)
    match parsed.rule:
        case "bore":
            return tree.Bore(amounts[0], spread, span=span)
        case "rod":
            return tree.Rod(amounts[0], span=span)
        case "stroke_length":
            return tree.StrokeLength(amounts[0], span=span)
        case "flow":
            return tree.Flow(amounts[0], spread, span=span)
        case "reset_travel":
            return part.ResetTravel(amounts[0], span=span)
        case "travel_time":
            return _travel(parsed)
        case "single_solenoid":
            return tree.SingleSolenoid(names[0], span=span)
        case "double_solenoid":
            return part.DoubleSides(tuple(a(part.Side, n) for n in inner), span=span)
        case "three_position":
            centre = next((n.word for n in parsed.every(part.Centre)), "")
            return part.ThreeSides(tuple(parsed.every(part.Side)), centre, span=span)
        case "centre":
            return part.Centre(kinds[0].removesuffix("_CENTRE").lower(), span=span)
        case "spring_centred":
            return part.SpringCentred(span=span)
        case "rapid_solenoid":
            return tree.RapidSolenoid(kinds[0].removesuffix("_SOLENOID").lower(), names[0], span=span)
        case "side":
            return part.Side(names[0], kinds[0].lower(), span=span)
        case "limit_places":
            return part.LimitPlaces(a(part.Place, inner[0]), span=span)
        case "pressure_places":
            return part.PressurePlaces(a(part.Place, inner[0]), span=span)
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


def _travel(parsed: Parsed) -> tree.TravelTime:
    amounts, tokens, span = parsed.amounts, parsed.tokens, parsed.span
    rapidly = any(token.type == "RAPIDLY" for token in tokens)
    direction = tokens[0].type.lower() + (" rapidly" if rapidly else "")
    if tokens[-1].type == "NUMBER":  # "4 to 6 s": both numbers have the unit of the second
        number = tokens[-1]
        place = parsed.place(number)
        least = tree.Quantity(_plain_number(str(number)), amounts[0].unit, span=place)
        return tree.TravelTime(direction, least, amounts[0], span=span)
    return tree.TravelTime(direction, amounts[0], amounts[1] if len(amounts) > 1 else None, span=span)


def _plain_number(number: str) -> str:
    return f"0{number}" if number.startswith(".") else number


def quantity(text: str, span: Span) -> tree.Quantity:
    """A number and its unit as written."""
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
    return part.Place(a(tree.Name, inner[0]), at, direction, contact, span=span)
