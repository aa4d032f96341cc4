"""The lines of a cylinder: each clause becomes a new line, or continues the one before it."""

from __future__ import annotations

from dataclasses import replace

from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import clauses as part
from grammar.sequence import ratings, tree
from grammar.sequence.words import dimension
from grammar.source import Span

__all__ = ["called", "join", "whole"]

_CALLED: dict[type[tree.Node], str] = {
    tree.Bore: "a bore",
    tree.Rod: "a rod",
    tree.StrokeLength: "a stroke",
    tree.Flow: "a flow",
    tree.TravelTime: "a travel time",
    tree.SingleSolenoid: "a valve",
    part.DoubleSides: "a valve",
    part.ThreeSides: "a valve",
    part.Centre: "the centre of a valve",
    part.SpringCentred: "'spring-centred'",
    tree.RapidSolenoid: "a solenoid of a valve",
    part.Side: "a solenoid of a valve",
    part.SpringReturn: "a spring return",
    tree.SingleActing: "'single-acting'",
    tree.NormallyExtended: "'normally extended'",
    part.ResetTravel: "a reset travel",
    part.Direction: "a direction",
    **ratings.CALLED,
}


def called(node: tree.Node) -> str:
    """How a message names a line of a cylinder or a pump."""
    return _CALLED.get(type(node), "a switch")


def join(items: list[tree.Item], node: tree.Node, *, pump: bool = False) -> list[tree.Item] | Diagnostic:
    """The lines of the cylinder, or of the pump, with one more clause, or what is wrong with it."""
    if pump:
        return ratings.join_pump(items, node, called(node))
    match node:
        case (
            tree.Bore() | tree.Rod() | tree.StrokeLength() | tree.Flow() | tree.TravelTime() | tree.SingleSolenoid()
            | tree.SingleActing() | tree.NormallyExtended() | tree.RapidSolenoid()
        ):  # fmt: skip
            return [*items, tree.Item(node, span=node.span)]
        case _ if isinstance(node, tree.Rating):
            return ratings.in_cylinder(node) or [*items, tree.Item(node, span=node.span)]
        case part.DoubleSides():
            return _sides(
                [*items, tree.Item(tree.DoubleSolenoid(_NOBODY, _NOBODY, span=node.span), span=node.span)], node.sides
            )
        case part.ThreeSides():
            centred = tree.ThreePosition(_NOBODY, _NOBODY, node.centre, span=node.span)
            return _sides([*items, tree.Item(centred, span=node.span)], node.sides)
        case part.Side():
            return _sides(items, (node,))
        case part.LimitPlaces() | part.PressurePlaces():
            return _switch(items, node.place, isinstance(node, part.PressurePlaces), node.span)
        case part.Place():
            return _switch(items, node, None, node.span)
        case (
            part.SpringReturn() | part.SpringCentred() | part.Centre() | part.ResetTravel() | part.Contact()
            | part.Direction()
        ):  # fmt: skip
            return _continue(items, node)
        case part.GiveOrTake() | part.Lifted():
            return _rating(items, node)
        case _:
            raise AssertionError(f"{type(node).__name__} is no line of a cylinder")


def whole(items: list[tree.Item]) -> tuple[list[tree.Item], list[Diagnostic]]:
    """The lines without a valve that lacks a solenoid or its centre, and what is wrong with that one."""
    lacking = [(item, _lacks(item)) for item in items]
    return [item for item, fault in lacking if fault is None], [fault for _, fault in lacking if fault is not None]


def _lacks(item: tree.Item) -> Diagnostic | None:
    match item.attribute:
        case tree.DoubleSolenoid(extends=out, retracts=back) | tree.ThreePosition(extends=out, retracts=back) if not (
            out.text and back.text
        ):
            word, have = ("retracts", out.text) if out.text else ("extends", back.text)
            message = f"only {have} of this valve is named; nothing {word} the cylinder"
            cure = f"name the other too, as in  , SOL2 {word}  - or say single solenoid valve {have}"
            return _fault("RW123", message, item.span, cure=cure)
        case tree.ThreePosition(centre=""):
            cure = "add  , closed centre  (or tandem centre, or float centre)"
            return _fault("RW141", "the centre of this three-position valve is not named", item.span, cure=cure)
        case _:
            return None


_NOBODY = tree.Name("")


def _sides(items: list[tree.Item], sides: tuple[part.Side, ...]) -> list[tree.Item] | Diagnostic:
    """A valve with two solenoids takes them in either order."""
    for side in sides:
        valve = items[-1].attribute if items else None
        if not isinstance(valve, tree.DoubleSolenoid | tree.ThreePosition):
            return _lost(
                side.span, "'double solenoid valve' or 'three-position valve' and its first solenoid before it"
            )
        taken = valve.extends if side.direction == "extends" else valve.retracts
        if taken.text:
            message = f"{taken.text} already {side.direction} this cylinder"
            other = "retracts" if side.direction == "extends" else "extends"
            return _fault("RW123", message, side.span, cure=f"{side.solenoid.text} {other}")
        if side.direction == "extends":
            valve = replace(valve, extends=side.solenoid)
        else:
            valve = replace(valve, retracts=side.solenoid)
        items = ratings.last(items, valve, side.span)
    return items


def _switch(
    items: list[tree.Item], place: part.Place, pressure: bool | None, span: Span
) -> list[tree.Item] | Diagnostic:
    """What a switch stands at tells its kind; the words before it must agree."""
    by_pressure = isinstance(place.at, tree.Quantity) and dimension(place.at.unit) == "pressure"
    if pressure is not None and pressure is not by_pressure:
        told = place.at.number + " " + place.at.unit if isinstance(place.at, tree.Quantity) else f"at {place.at}"
        if by_pressure:
            return _fault(
                "RW129", f"{told} is a pressure, not a place on the stroke", place.span, cure="pressure switch"
            )
        return _fault("RW129", f"{told} is not a pressure", place.span, cure="pressure switch PS1 at 90 bar")
    contact = place.contact or "normally open"
    if by_pressure:
        assert isinstance(place.at, tree.Quantity)
        direction = place.direction or "extends"
        made: tree.Attribute = tree.PressureSwitch(place.name, place.at, direction, contact, span=span)
    elif place.direction is not None:
        return _fault("RW129", "only a pressure switch belongs to one direction of the stroke", place.span,
                      cure="leave the direction out")  # fmt: skip
    else:
        made = tree.LimitSwitch(tree.Switch(place.name, place.at, None, contact, span=place.span), span=span)
    return [*items, tree.Item(made, span=span)]


def _continue(items: list[tree.Item], node: tree.Node) -> list[tree.Item] | Diagnostic:
    before = items[-1].attribute if items else None
    match node, before:
        case part.SpringReturn(), tree.SingleSolenoid() | tree.SingleActing():
            return ratings.last(items, before, node.span)
        case part.SpringReturn(), _:
            return _lost(node.span, "'single solenoid valve' and the name of its solenoid before it")
        case part.SpringCentred(), tree.ThreePosition():
            return ratings.last(items, before, node.span)
        case part.Centre(word=word), tree.ThreePosition(centre=""):
            return ratings.last(items, replace(before, centre=word), node.span)
        case part.Centre(), tree.ThreePosition(centre=taken):
            return _fault(
                "RW141", f"this valve already has a {taken} centre", node.span, cure="leave one of the two out"
            )
        case part.SpringCentred() | part.Centre(), _:
            return _lost(node.span, "'three-position valve' and its solenoids before it")
        case part.ResetTravel(length=length), tree.LimitSwitch(switch=switch):
            return ratings.last(items, replace(before, switch=replace(switch, reset_travel=length)), node.span)
        case part.ResetTravel(), _:
            return _lost(node.span, "a limit switch before it")
        case part.Contact(form=form), tree.LimitSwitch(switch=switch):
            return ratings.last(items, replace(before, switch=replace(switch, contact=form)), node.span)
        case part.Contact(form=form), tree.PressureSwitch():
            return ratings.last(items, replace(before, contact=form), node.span)
        case part.Contact(), _:
            return _lost(node.span, "an input device or a switch before it")
        case part.Direction(), tree.Load():
            return _rating(items, node)
        case part.Direction(word=word), tree.PressureSwitch():
            return ratings.last(items, replace(before, direction=word), node.span)
        case _:
            return _lost(node.span, "a pressure switch or a load before it")


def _rating(items: list[tree.Item], node: tree.Node) -> list[tree.Item] | Diagnostic:
    more = ratings.continued(items[-1].attribute if items else None, node)
    assert more is not None
    return more if isinstance(more, Diagnostic) else ratings.last(items, more, node.span)


def _lost(span: Span, wanted: str) -> Diagnostic:
    return Diagnostic("RW121", Severity.FAULT, "this continues something that is not there", span, expected=wanted)


def _fault(code: str, message: str, span: Span, *, cure: str = "") -> Diagnostic:
    return Diagnostic(code, Severity.FAULT, message, span, cure=cure)
