"""From parsed rules to the nodes of steps, of what orders steps, and of rules."""

from __future__ import annotations

from dataclasses import replace

from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.sequence.parsed import Parsed, a, cond

__all__ = ["block_head", "requirement", "rule", "step_part"]


def step_part(parsed: Parsed) -> tree.Node:
    """A step, part of one, or several in a row."""
    inner, kinds, span = parsed.inner, parsed.kinds, parsed.span
    match parsed.rule:
        case "steps":
            return part.Steps(tuple(n for n in inner if isinstance(n, part.StepClause | tree.Do)), span=span)
        case "cycle_step":
            return _step(parsed)
        case "stroke":
            direction = "extend" if "EXTEND" in kinds else "retract"
            return tree.Stroke(direction, parsed.first(tree.Name), "RAPIDLY" in kinds, span=span)
        case "turn":
            return tree.Turn(bool({"TURN_ON", "ON"} & set(kinds)), parsed.names[0], span=span)
        case "wait":
            return tree.Wait(kinds[0].lower(), span=span)
        case "halt":
            return tree.Halt(parsed.names[0], span=span)
        case "run":
            return tree.Run(parsed.names[0], kinds[-1].lower() if kinds else "", span=span)
        case "count":
            return tree.Count(parsed.names[0], "CLEAR" in kinds, span=span)
        case "do":
            return tree.Do(parsed.names[0], span=span)
        case "until":
            return tree.Until(cond(inner[0]), span=span)
        case "duration":
            return part.Duration(a(tree.Quantity, inner[0]), "FOR" not in kinds, span=span)
        case "within":
            fault = parsed.first(part.FaultClause)
            return part.WithinClause(a(tree.Quantity, inner[0]), fault.message if fault else None, span=span)
        case _:
            return part.FaultClause(a(tree.Text, inner[0]), span=span)


def _step(parsed: Parsed) -> part.StepClause:
    commands: list[tree.Command] = []
    astray = None
    for node in parsed.inner:
        match node:
            case tree.Name() if isinstance(commands[-1], tree.Wait):
                astray = node
            case tree.Name():
                commands.append(_again(commands[-1], node))
            case _ if isinstance(node, tree.Command):
                commands.append(node)
            case _:
                pass
    timed = parsed.first(part.Duration)
    step = tree.CycleStep(tuple(commands), parsed.first(tree.Until), timed.time if timed else None, span=parsed.span)
    bare = timed if timed and timed.bare else None
    return part.StepClause(step, bare, parsed.first(part.WithinClause), astray, span=parsed.span)


def _again(command: tree.Command, name: tree.Name) -> tree.Command:
    """``extend A and B``: the verb before is meant again."""
    match command:
        case tree.Stroke():
            return replace(command, actuator=name, span=name.span)
        case tree.Turn():
            return replace(command, load=name, span=name.span)
        case tree.Halt():
            return replace(command, what=name, span=name.span)
        case tree.Run():
            return replace(command, motor=name, span=name.span)
        case tree.Count():
            return replace(command, counter=name, span=name.span)
        case tree.Wait():
            raise AssertionError("a wait takes no name")


def block_head(parsed: Parsed) -> tree.Node:
    """What begins a block, or goes on with one: its lines follow. Also letters and what ends a cycle."""
    kinds, span = parsed.kinds, parsed.span
    steps = parsed.first(part.Steps)
    match parsed.rule:
        case "cycle_head":
            return part.CycleHead(parsed.first(tree.Name), span=span)
        case "routine_head":
            return part.RoutineHead(parsed.names[0], span=span)
        case "together_head":
            return part.TogetherHead(span=span)
        case "meanwhile_head":
            return part.MeanwhileHead(steps, span=span)
        case "if_head":
            return part.IfHead(_case(parsed), steps, span=span)
        case "otherwise_head":
            return part.OtherwiseHead(
                _case(parsed) if len(parsed.inner) > (steps is not None) else None, steps, span=span
            )
        case "repeat_times":
            times = next(t for t in parsed.tokens if t.type == "WHOLE")
            return part.RepeatHead(times=int(times), counter=parsed.first(tree.Name), span=span)
        case "repeat_until":
            return part.RepeatHead(until=cond(parsed.inner[0]), span=span)
        case "repeat_while":
            return part.RepeatHead(while_=cond(parsed.inner[0]), span=span)
        case "counted_by":
            return part.CountedBy(parsed.names[0], span=span)
        case "again":
            return tree.Again(cond(parsed.inner[0]), span=span)
        case "letters":
            groups = [n.moves if isinstance(n, part.Group) else (a(tree.Move, n),) for n in parsed.inner]
            return tree.Letters(tuple(groups), span=span)
        case "group":
            return part.Group(tuple(parsed.every(tree.Move)), span=span)
        case _:
            raise AssertionError(f"{parsed.rule} begins nothing: {kinds}")


def _case(parsed: Parsed) -> tree.Cond:
    condition = cond(parsed.inner[0])
    return tree.NotCond(condition, span=condition.span) if "UNLESS" in parsed.kinds else condition


def rule(parsed: Parsed) -> tree.Node:
    """A rule: what starts the cycle, what STOP does, faults, home, and what is enforced."""
    inner, names, span = parsed.inner, parsed.names, parsed.span
    match parsed.rule:
        case "when":
            response = next((n for n in inner if isinstance(n, part.Response)), None)
            return part.When(cond(inner[0]), response, span=span)
        case "when_fault":
            return part.WhenFault(span=span)
        case "drop_out":
            return tree.DropOut(span=span)
        case "finish_step":
            return tree.FinishStep(span=span)
        case "return_home":
            return tree.ReturnHome((), span=span)
        case "finish_cycle":
            return part.FinishClause(cond(inner[0]) if inner else None, span=span)
        case "fault_reset":
            if names:
                condition: tree.Cond = tree.StateIs(names[0], tree.StateWord.PRESSED, span=names[0].span)
                return tree.FaultReset(condition, span=span)
            return tree.FaultReset(cond(inner[0]), span=span)
        case "only_while":
            return tree.OnlyWhile(names[0], cond(inner[1]), span=span)
        case "never_with":
            return tree.NeverWith(names[0], names[1], span=span)
        case _:
            return tree.Home(cond(inner[0]), span=span)


def requirement(parsed: Parsed) -> tree.Requirement:
    """What must never, always or soon be so."""
    what, *more = parsed.inner
    match parsed.rule:
        case "never":
            return tree.Never(cond(what), cond(more[0]) if more else None, span=parsed.span)
        case "always":
            return tree.Always(cond(what), cond(more[0]) if more else None, span=parsed.span)
        case _:
            time, effect = sorted(more, key=lambda node: not isinstance(node, tree.Quantity))
            return tree.Whenever(cond(what), cond(effect), a(tree.Quantity, time), span=parsed.span)
