"""Rules and what goes on with them: what a ``when`` makes happen, what a fault turns on, steps that are missing."""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["RESPONSES", "WHOLE", "answers", "misplaced", "no_steps", "turned_on"]

WHOLE = tree.OneLine | tree.Home | tree.FaultReset | tree.Interlock | tree.Requirement
"""What is said in one clause and is whole with it."""

RESPONSES: dict[type[tree.Node], str] = {
    tree.DropOut: "drop out everything",
    tree.FinishStep: "finish the stroke",
    tree.ReturnHome: "return home",
    part.FinishClause: "stop at end of cycle",
}
"""What may follow ``when STOP is pressed``, in its canonical words."""


def answers(node: tree.Node) -> bool:
    """Whether a clause says what happens when something is pressed, and not when that is."""
    if isinstance(node, part.FinishClause):
        return node.condition is None
    return isinstance(node, part.Response)


def misplaced(when: part.When, cycle: tree.Declaration, *, begun: bool) -> Diagnostic | None:
    """What is wrong with a ``when`` that starts a cycle; ``begun``: steps stand before it."""
    if not isinstance(cycle, tree.Cycle):
        message = "a 'when' says nothing here: what starts a cycle comes right under 'cycle'"
        return _fault("RW122", message, when.span, "'wait until START is pressed', say")
    if begun:
        message = "a 'when' between steps says nothing; what starts the cycle comes before the first step"
        cure = (
            "'wait until START is pressed', say, or put it right under 'cycle'; what STOP does is "
            "'drop out everything', 'finish the stroke' or 'return home'"
        )
        return _fault("RW122", message, when.span, cure)
    if cycle.trigger is not None:
        message = "the cycle already has a 'when' that starts it"
        return _fault("RW122", message, when.span, "join the two conditions with 'and' or 'or'")
    return None


def time_of_a_stroke(node: tree.Node, declared: tree.Declaration | None) -> Diagnostic | None:
    """ "Extend time 1 s" in the lines of a cylinder: how long its stroke takes, and no step."""
    said = node.steps[0] if isinstance(node, part.Steps) and isinstance(declared, tree.Cylinder) else None
    command = said.step.commands[0] if isinstance(said, part.StepClause) and said.step.commands else None
    if not isinstance(command, tree.Stroke) or command.actuator is None or command.actuator.text.casefold() != "time":
        return None
    message = "how long a stroke takes is said in another way"
    return _fault("RW169", message, node.span, f"{command.direction}s in 1 s, say; or in 1 s to 2 s")


def no_steps(node: tree.Cycle | tree.Routine | tree.StopRule) -> Diagnostic:
    """A cycle, a routine or a way home that does nothing."""
    match node:
        case tree.Cycle():
            return _fault("RW125", "this cycle has no steps", node.span, "say what it does: extend until at-end")
        case tree.Routine():
            return _fault("RW157", "this routine has no steps", node.span, "write its steps under it, indented")
        case tree.StopRule():
            cure = "write them under it, indented, in their order: retract DRILL until at-home"
            return _fault("RW157", "the way home is not said: it has no steps", node.response.span, cure)


def turned_on(said: part.StepClause | tree.Do) -> tuple[tree.Turn, ...] | Diagnostic:
    """What a step turns on or off, where that is all it does."""
    commands = said.step.commands if isinstance(said, part.StepClause) else ()
    turns = tuple(c for c in commands if isinstance(c, tree.Turn))
    if said == part.StepClause(tree.CycleStep(turns), None, None):
        return turns
    cure = "when a fault is shown, turn on ALARM"
    return _fault("RW124", "on a fault things can only be turned on", said.span, cure)


def _fault(code: str, message: str, span: Span, cure: str) -> Diagnostic:
    return Diagnostic(code, Severity.FAULT, message, span, cure=cure)
