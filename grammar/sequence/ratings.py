"""The lines that state ratings: each clause made a node, joined to its cylinder or pump, and written again."""

from __future__ import annotations

from dataclasses import replace

from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["CALLED", "NODES", "build", "continued", "in_cylinder", "join_pump", "last", "spread", "text"]

NODES: dict[str, type[tree.Node]] = {
    "pump": part.PumpHead,
    "give_or_take": part.GiveOrTake,
    "lifted": part.Lifted,
    "pressure": tree.Pressure,
    "load": tree.Load,
    "friction": tree.Friction,
    "efficiency": tree.Efficiency,
    "shift_time": tree.ShiftTime,
    "cushion_time": tree.CushionTime,
    "tube": tree.Tube,
    "displacement": tree.Displacement,
    "turning_speed": tree.TurningSpeed,
    "case_drain": tree.CaseDrain,
    "pump_control": tree.PumpControl,
}
"""The rules of the grammar that are read here."""

CALLED: dict[type[tree.Node], str] = {
    tree.Pressure: "a pressure",
    tree.Load: "a load",
    tree.Friction: "a friction",
    tree.Efficiency: "an efficiency",
    tree.ShiftTime: "a shift time",
    tree.CushionTime: "a cushion time",
    tree.Tube: "a tube",
    tree.Displacement: "a displacement",
    tree.TurningSpeed: "a speed",
    tree.CaseDrain: "a case drain",
    tree.PumpControl: "the kind of pump",
    part.GiveOrTake: "'give or take'",
    part.Lifted: "'lifted'",
}
"""How a message names each of them."""

_FOR_PUMPS = tree.Displacement | tree.TurningSpeed | tree.CaseDrain | tree.PumpControl
_WAYS = {"EXTENDING": "extends", "RETRACTING": "retracts", "EXTENDS": "extends", "RETRACTS": "retracts"}


def build(rule: str, inner: list[tree.Node], kinds: list[str], span: Span) -> tree.Node:
    """The node of a rule of NODES, from the nodes and the kinds of words inside it."""
    amounts = [n for n in inner if isinstance(n, tree.Quantity)]
    spread = next((n.share for n in inner if isinstance(n, part.GiveOrTake)), None)
    match rule:
        case "pump":
            return part.PumpHead(span=span)
        case "give_or_take":
            return part.GiveOrTake(amounts[0], span=span)
        case "lifted":
            return part.Lifted(span=span)
        case "pressure":
            return tree.Pressure(amounts[0], spread, span=span)
        case "load":
            direction = next((n.word for n in inner if isinstance(n, part.Direction)), "extends")
            return tree.Load(amounts[0], direction, any(isinstance(n, part.Lifted) for n in inner), span=span)
        case "friction":
            return tree.Friction(amounts[0], span=span)
        case "efficiency":
            kind = next((k.lower() for k in kinds if k in ("VOLUMETRIC", "OVERALL")), "")
            return tree.Efficiency(amounts[0], kind, span=span)
        case "shift_time":
            return tree.ShiftTime(amounts[0], spread, span=span)
        case "cushion_time":
            return tree.CushionTime(amounts[0], span=span)
        case "tube":
            return tree.Tube(amounts[0], amounts[1] if len(amounts) > 1 else None, span=span)
        case "displacement":
            return tree.Displacement(amounts[0], span=span)
        case "turning_speed":
            return tree.TurningSpeed(amounts[0], span=span)
        case "case_drain":
            return tree.CaseDrain(amounts[0], span=span)
        case _:
            return tree.PumpControl("PRESSURE_COMPENSATED" in kinds, span=span)


def continued(before: tree.Attribute | None, node: tree.Node) -> tree.Attribute | Diagnostic | None:
    """The line before with a clause that continues it, or what is wrong; None where the clause is of another kind."""
    match node, before:
        case part.GiveOrTake(share=share), tree.Bore() | tree.Flow() | tree.Pressure() | tree.ShiftTime():
            if before.spread is not None:
                return _fault("RW123", "how exact this is has been said", node.span, cure="delete one of the two")
            return replace(before, spread=share)
        case part.GiveOrTake(), _:
            return _lost(node.span, "a bore, a flow, a pressure or a shift time before it")
        case part.Lifted(), tree.Load():
            return replace(before, lifted=True)
        case part.Lifted(), _:
            return _lost(node.span, "a load before it")
        case part.Direction(word=word), tree.Load():
            return replace(before, direction=word)
        case _:
            return None


def in_cylinder(node: tree.Node) -> Diagnostic | None:
    """What is wrong with a rating among the lines of a cylinder, if anything is."""
    if isinstance(node, _FOR_PUMPS) or (isinstance(node, tree.Efficiency) and node.kind):
        return _fault("RW120", f"{CALLED[type(node)]} of this kind belongs to a pump", node.span,
                      cure="put it in the lines under 'hydraulic pump'")  # fmt: skip
    return None


def join_pump(items: list[tree.Item], node: tree.Node, called: str) -> list[tree.Item] | Diagnostic:
    """The lines of the pump with one more clause, or what is wrong with it; ``called`` names the clause."""
    before = items[-1].attribute if items else None
    match node:
        case tree.Flow() | tree.Pressure() | tree.Displacement() | tree.TurningSpeed() | tree.CaseDrain():
            return [*items, tree.Item(node, span=node.span)]
        case tree.PumpControl() | tree.Efficiency(kind="volumetric" | "overall"):
            return [*items, tree.Item(node, span=node.span)]
        case tree.Efficiency():
            return _fault("RW120", "which efficiency of the pump this is is not said", node.span,
                          cure="volumetric efficiency or overall efficiency")  # fmt: skip
        case part.GiveOrTake() | part.Lifted():
            more = continued(before, node)
            assert more is not None
            return more if isinstance(more, Diagnostic) else last(items, more, node.span)
        case _:
            return _fault("RW120", f"{called} belongs to a cylinder, not to a pump", node.span,
                          cure="put it in the lines under 'hydraulic cylinder NAME'")  # fmt: skip


def last(items: list[tree.Item], attribute: tree.Attribute, span: Span) -> list[tree.Item]:
    """The lines with the last one grown by a clause at ``span``."""
    longer = items[-1].span.to(span)
    return [*items[:-1], replace(items[-1], attribute=replace(attribute, span=longer), span=longer)]


def text(node: tree.Rating) -> str:
    """A rating in its canonical form."""
    match node:
        case tree.Pressure():
            return f"pressure {_amount(node.pressure)}{spread(node.spread)}"
        case tree.Load():
            way = ", retracting" if node.direction == "retracts" else ""
            return f"load {_amount(node.amount)}{', lifted' if node.lifted else ''}{way}"
        case tree.Friction():
            return f"friction {_amount(node.amount)}"
        case tree.Efficiency():
            return f"{node.kind} efficiency {_amount(node.share)}".lstrip()
        case tree.ShiftTime():
            return f"valve shift time {_amount(node.time)}{spread(node.spread)}"
        case tree.CushionTime():
            return f"cushion time {_amount(node.time)}"
        case tree.Tube():
            return f"tube {_amount(node.amount)}" + (f" by {_amount(node.length)}" if node.length else "")
        case tree.Displacement():
            return f"displacement {_amount(node.amount)}"
        case tree.TurningSpeed():
            return f"speed {_amount(node.speed)}"
        case tree.CaseDrain():
            return f"case drain {_amount(node.flow)}"
        case tree.PumpControl():
            return "pressure-compensated" if node.compensated else "fixed displacement"


def spread(share: tree.Quantity | None) -> str:
    """How exact a quantity is, as it follows that quantity."""
    return "" if share is None else f", give or take {_amount(share)}"


def _amount(quantity: tree.Quantity) -> str:
    return f"{quantity.number} {quantity.unit}"


def _lost(span: Span, wanted: str) -> Diagnostic:
    return Diagnostic("RW121", Severity.FAULT, "this continues something that is not there", span, expected=wanted)


def _fault(code: str, message: str, span: Span, *, cure: str = "") -> Diagnostic:
    return Diagnostic(code, Severity.FAULT, message, span, cure=cure)
