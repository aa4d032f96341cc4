"""From lark's parse tree of one clause to nodes. Nothing is judged here; depth is limited before we come here."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

from grammar.layout import Clause
from grammar.sequence import clauses as part
from grammar.sequence import ratings, tree
from grammar.sequence.build_condition import condition
from grammar.sequence.build_cycle import block_head, requirement, rule, step_part
from grammar.sequence.build_devices import attribute, device, quantity
from grammar.sequence.parsed import Parsed

if TYPE_CHECKING:
    from lark import Token, Tree

__all__ = ["NODES", "ClauseNode", "build"]

NODES: dict[str, type[tree.Node]] = {
    "machine": tree.Machine,
    "cylinder": part.CylinderHead,
    "input_device": tree.InputDevice,
    "load_device": tree.LoadDevice,
    "counter_device": tree.CounterDevice,
    "signal_device": tree.SignalDevice,
    "motor_head": part.MotorHead,
    "motor_sides": part.MotorSides,
    "motor_side": part.MotorSide,
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
    "three_position": part.ThreeSides,
    "centre": part.Centre,
    "spring_centred": part.SpringCentred,
    "rapid_solenoid": tree.RapidSolenoid,
    "single_acting": tree.SingleActing,
    "normally_extended": tree.NormallyExtended,
    "limit_places": part.LimitPlaces,
    "pressure_places": part.PressurePlaces,
    "place": part.Place,
    "direction": part.Direction,
    "reset_travel": part.ResetTravel,
    "cycle_head": part.CycleHead,
    "routine_head": part.RoutineHead,
    "together_head": part.TogetherHead,
    "meanwhile_head": part.MeanwhileHead,
    "if_head": part.IfHead,
    "otherwise_head": part.OtherwiseHead,
    "repeat_times": part.RepeatHead,
    "repeat_until": part.RepeatHead,
    "repeat_while": part.RepeatHead,
    "counted_by": part.CountedBy,
    "again": tree.Again,
    "letters": tree.Letters,
    "group": part.Group,
    "move": tree.Move,
    "steps": part.Steps,
    "cycle_step": part.StepClause,
    "stroke": tree.Stroke,
    "turn": tree.Turn,
    "wait": tree.Wait,
    "halt": tree.Halt,
    "run": tree.Run,
    "count": tree.Count,
    "do": tree.Do,
    "until": tree.Until,
    "duration": part.Duration,
    "within": part.WithinClause,
    "fault": part.FaultClause,
    "when": part.When,
    "when_fault": part.WhenFault,
    "drop_out": tree.DropOut,
    "finish_step": tree.FinishStep,
    "return_home": tree.ReturnHome,
    "finish_cycle": part.FinishClause,
    "fault_reset": tree.FaultReset,
    "home": tree.Home,
    "only_while": tree.OnlyWhile,
    "never_with": tree.NeverWith,
    "never": tree.Never,
    "always": tree.Always,
    "whenever": tree.Whenever,
    "leads_to": tree.Whenever,
    "any_of": tree.AnyOf,
    "all_of": tree.AllOf,
    "not_cond": tree.NotCond,
    "sustained": tree.Sustained,
    "state_is": tree.StateIs,
    "has_reached": tree.HasReached,
    "after": tree.After,
    "name": tree.Name,
    "text": tree.Text,
    "quantity": tree.Quantity,
    **ratings.NODES,
}
"""Every rule of the grammar and the node it becomes (``state_is`` may also become a PlaceIs or an AtRest)."""

ClauseNode = tree.Node

_LEAVES = {"name", "text", "quantity", "move"}
_CONDITIONS = {"any_of", "all_of", "not_cond", "sustained", "state_is", "has_reached", "after"}
_STEP_PARTS = {
    "steps", "cycle_step", "stroke", "turn", "wait", "halt", "run", "count", "do", "until", "duration", "within",
    "fault",
}  # fmt: skip
_HEADS = {
    "cycle_head", "routine_head", "together_head", "meanwhile_head", "if_head", "otherwise_head", "repeat_times",
    "repeat_until", "repeat_while", "counted_by", "again", "letters", "group",
}  # fmt: skip
_RULES = {
    "when", "when_fault", "drop_out", "finish_step", "return_home", "finish_cycle", "fault_reset", "home",
    "only_while", "never_with",
}  # fmt: skip
_REQUIREMENTS = {"never", "always", "whenever", "leads_to"}
_DEVICES = {
    "machine", "cylinder", "input_device", "load_device", "counter_device", "signal_device", "motor_head",
    "motor_sides", "motor_side", "contact", "another",
}  # fmt: skip


def build(parsed: Tree[Token], clause: Clause) -> ClauseNode:
    """The node a parsed clause becomes, with its places in the source."""
    meta = parsed.meta
    span = clause.span(meta.start_pos, meta.end_pos) if not meta.empty else clause.span()
    inner = [build(c, clause) for c in parsed.children if not isinstance(c, str)]
    tokens = [c for c in parsed.children if isinstance(c, str)]
    found = Parsed(str(parsed.data), inner, tokens, clause, span)
    if found.rule in _LEAVES:
        return _leaf(found)
    if found.rule in _CONDITIONS:
        return condition(found)
    if found.rule in _STEP_PARTS:
        return step_part(found)
    if found.rule in _HEADS:
        return block_head(found)
    if found.rule in _RULES:
        return rule(found)
    if found.rule in _REQUIREMENTS:
        return requirement(found)
    if found.rule in _DEVICES:
        return device(found)
    if found.rule in ratings.NODES:
        return ratings.build(found.rule, found.inner, found.kinds, found.span)
    return attribute(found)


def _leaf(parsed: Parsed) -> tree.Node:
    token = parsed.tokens[-1]
    match parsed.rule:
        case "name":
            # Only the word itself is underlined, not an article before it.
            return tree.Name(unicodedata.normalize("NFC", str(token)), span=parsed.place(token))
        case "text":
            return tree.Text(str(token)[1:-1].strip(), span=parsed.span)
        case "move":
            word = str(token)[:-1].rstrip(" ")
            start = token.start_pos or 0
            name = tree.Name(unicodedata.normalize("NFC", word), span=parsed.clause.span(start, start + len(word)))
            return tree.Move(name, str(token)[-1] == "+", span=parsed.span)
        case _:
            return quantity(str(token), parsed.span)
