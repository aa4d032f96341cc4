"""From clauses to the program: each clause joined to the one it continues, comments to the line they stand by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from grammar.diagnostic import Diagnostic, Severity
from grammar.layout import Clause, Line
from grammar.sequence import clauses as part
from grammar.sequence import cylinder, tree
from grammar.sequence.words import dimension
from grammar.source import Span

__all__ = ["Assembly"]

L = TypeVar("L", bound=tree.Line)


class Assembly:
    """A program under construction. Feed it lines and clauses in order, then ask for the program.

    Finished declarations are frozen nodes; what is still open is the last of each list.
    """

    def __init__(self) -> None:
        self.found: list[Diagnostic] = []
        self.declarations: list[tree.Declaration] = []
        self.items: list[tree.Item] = []
        self.steps: list[tree.CycleStep] = []
        self.trigger: tree.Trigger | None = None
        self.above: list[str] = []
        self.last: tree.Node | None = None  # what a continuing clause may belong to
        self.time_limit: part.WithinClause | None = None  # a "within" whose fault may follow
        self.when: part.When | None = None
        self.when_comments = tree.Comments()
        self.block_indent = 0
        self.line: Line | None = None
        self.first_of_line = True
        self.doubtful = False  # a clause before could not be read: what is missing may have been in it

    # --- lines and comments

    def open_line(self, line: Line) -> None:
        """A new line begins; what it says follows clause by clause."""
        self.line = line
        self.first_of_line = True
        if not line.clauses and line.comment is not None:
            self.above.append(line.comment)

    def close_line(self) -> None:
        """The line is over: its comment goes beside the last thing it said."""
        line = self.line
        if line is None or not line.clauses or not line.comment:
            return
        comment = line.comment

        def beside(node: L) -> L:
            old = node.comments
            if old.beside:
                return replace(node, comments=replace(old, above=(*old.above, comment)))
            return replace(node, comments=replace(old, beside=comment))

        self._change_last_line(beside)

    def _change_last_line(self, change: Callable[[tree.Line], tree.Line]) -> None:
        """Changes the newest node that can carry comments; a comment with no such node waits for the next."""
        if self.when is not None:
            self.when_comments = change(tree.Trigger(self.when.condition, comments=self.when_comments)).comments
        elif self.items:
            self.items[-1] = _same(change(self.items[-1]), self.items[-1])
        elif self.steps:
            self.steps[-1] = _same(change(self.steps[-1]), self.steps[-1])
        elif self.trigger is not None:
            self.trigger = _same(change(self.trigger), self.trigger)
        elif self.declarations:
            self.declarations[-1] = _same(change(self.declarations[-1]), self.declarations[-1])
        elif self.line is not None and self.line.comment:
            self.above.append(self.line.comment)

    def _comments(self) -> tree.Comments:
        taken = tree.Comments(tuple(self.above))
        self.above = []
        return taken

    # --- clauses

    def add(self, node: tree.Node) -> None:
        """One more clause, in the order written."""
        if self.when is not None and not isinstance(node, tree.DropOut | part.FaultClause):
            self._settle_when()
        match node:
            case tree.Machine() | tree.InputDevice() | tree.LoadDevice() | tree.Home():
                self._declare(replace(node, comments=self._comments()))
            case tree.Never() | tree.Always() | tree.Whenever():
                self._declare(replace(node, comments=self._comments()))
            case part.CylinderHead():
                self._declare(tree.Cylinder(node.medium, node.name, span=node.span, comments=self._comments()))
            case part.Another():
                self._another(node)
            case part.CycleHead():
                self._declare(tree.Cycle(None, (), span=node.span, comments=self._comments()))
            case part.When():
                self._when(node)
            case tree.DropOut():
                self._drop_out(node)
            case part.WhenFault():
                self._declare(tree.OnFault((), span=node.span, comments=self._comments()))
            case part.Steps():
                for step in node.steps:
                    self._step(step)
            case tree.Until() | part.Duration():
                self._ending(node)
            case part.WithinClause():
                self._within(node)
            case part.FaultClause():
                self._fault_clause(node)
            case part.Contact() if isinstance(self.last, tree.InputDevice):
                self.last = replace(self.last, contact=node.form, span=self.last.span.to(node.span))
                self.declarations[-1] = self.last
            case _:
                self._cylinder_line(node)
        self.first_of_line = False

    def skip(self, clause: Clause) -> None:
        """A clause that could not be read: what follows it belongs to nothing certain."""
        if self.when is not None:
            self._settle_when()
        self.last = self.time_limit = None
        self.first_of_line = False
        self.doubtful = True

    def program(self, end: int) -> tree.Program:
        """The whole program; ``end`` is the length of the text."""
        if self.when is not None:
            self._settle_when()
        self._close()
        return tree.Program(tuple(self.declarations), tuple(self.above), span=Span(0, end))

    # --- declarations

    def _declare(self, node: tree.Declaration) -> None:
        self._close()
        self.doubtful = False
        self.declarations.append(node)
        self.last = node
        self.block_indent = self.line.indent if self.line else 0
        if self.first_of_line and self.block_indent and not isinstance(node, tree.Cycle):
            self._indented(node)

    def _indented(self, node: tree.Declaration) -> None:
        place = Span(node.span.start, node.span.start + 1)
        message = "this begins something new, but its line is indented as if it belonged to the lines above"
        self.found.append(Diagnostic("RW128", Severity.WARNING, message, place, cure="start it at the left margin"))

    def _close(self) -> None:
        """Puts the lines gathered for the open cylinder or cycle into it."""
        self._need_fault()
        if not self.declarations:
            return
        match self.declarations[-1]:
            case tree.Cylinder() as open_:
                self._half_valve()
                end = self.items[-1].span if self.items else open_.span
                self.declarations[-1] = replace(open_, items=tuple(self.items), span=open_.span.to(end))
            case tree.Cycle() as open_:
                inside = [n.span for n in (self.trigger, *self.steps) if n is not None]
                span = open_.span.to(inside[-1]) if inside else open_.span
                self.declarations[-1] = replace(open_, trigger=self.trigger, steps=tuple(self.steps), span=span)
                if not self.steps and not self.doubtful:
                    message = "this cycle has no steps"
                    self._fault("RW125", message, open_.span, cure="say what it does: extend until at-end")
            case tree.OnFault(turns=()) as open_ if not self.doubtful:
                cure = "when a fault is shown, turn on ALARM"
                self._fault("RW124", "nothing is said to be turned on here", open_.span, cure=cure)
            case _:
                pass
        self.items, self.steps, self.trigger = [], [], None

    def _another(self, node: part.Another) -> None:
        match self.last:
            case tree.InputDevice() as before:
                contact = node.contact or "normally open"
                again = replace(before, name=node.name, contact=contact, span=node.span, comments=self._comments())
                self._declare(again)
            case tree.LoadDevice() as before:
                self._declare(replace(before, name=node.name, span=node.span, comments=self._comments()))
            case _:
                self._lost(node.span, "a device before it")

    # --- cylinders

    def _cylinder_line(self, node: tree.Node) -> None:
        if not (self.declarations and isinstance(self.declarations[-1], tree.Cylinder)):
            self._outside(node)
            return
        count = len(self.items)
        joined = cylinder.join(self.items, node)
        if isinstance(joined, Diagnostic):
            if not (self.doubtful and joined.code == "RW121"):
                self.found.append(joined)
            self.last, self.doubtful = None, True
            return
        self.items = joined
        if len(joined) > count:
            self.items[-1] = replace(self.items[-1], comments=self._comments())
        self.last = self.items[-1]
        if self.first_of_line and self.line and self.line.indent <= self.block_indent:
            self._not_indented("the cylinder above", node)

    def _outside(self, node: tree.Node) -> None:
        if isinstance(node, part.Contact):
            self._lost(node.span, "an input device or a switch before it")
            return
        if self.doubtful:
            return
        self.doubtful = True  # once is enough for a block of lines
        message = f"{cylinder.called(node)} belongs to a cylinder, and no cylinder is open here"
        cure = "put it in the lines under 'hydraulic cylinder NAME' or 'pneumatic cylinder NAME'"
        self._fault("RW120", message, node.span, cure=cure)

    def _half_valve(self) -> None:
        """A double solenoid valve with one solenoid is told, and left out of what is handed on."""
        whole: list[tree.Item] = []
        for item in self.items:
            valve = item.attribute
            if not isinstance(valve, tree.DoubleSolenoid) or (valve.extends.text and valve.retracts.text):
                whole.append(item)
                continue
            word, have = ("retracts", valve.extends.text) if valve.extends.text else ("extends", valve.retracts.text)
            message = f"only {have} of this double solenoid valve is named; nothing {word} the cylinder"
            cure = f"name the other too, as in  , SOL2 {word}  - or say single solenoid valve {have}"
            self._fault("RW123", message, item.span, cure=cure)
        self.items = whole

    def _not_indented(self, owner: str, node: tree.Node) -> None:
        place = Span(node.span.start, node.span.start + 1)
        message = f"this belongs to {owner}, but its line is not indented under it"
        cure = "indent it by four blanks; 'rungwright format' does it"
        self.found.append(Diagnostic("RW128", Severity.WARNING, message, place, cure=cure))

    # --- cycle and rules

    def _open_cycle(self, span: Span) -> None:
        if not (self.declarations and isinstance(self.declarations[-1], tree.Cycle)):
            self._close()
            self.declarations.append(tree.Cycle(None, (), span=Span(span.start, span.start)))
            self.block_indent = -1

    def _when(self, node: part.When) -> None:
        if node.response is not None:
            self._declare(tree.StopRule(node.condition, node.response, span=node.span, comments=self._comments()))
            return
        self._need_fault()
        self.when, self.when_comments = node, self._comments()
        self.when_indent = self.line.indent if self.line and self.first_of_line else None

    def _drop_out(self, node: tree.DropOut) -> None:
        if self.when is None:
            self._lost(node.span, "'when STOP is pressed' before it", "when STOP is pressed, drop out everything")
            return
        when, self.when = self.when, None
        self.first_of_line = False
        self._declare(tree.StopRule(when.condition, node, span=when.span.to(node.span), comments=self.when_comments))

    def _settle_when(self) -> None:
        """No ``drop out`` followed: it is what starts the cycle."""
        when, self.when = self.when, None
        assert when is not None
        self._open_cycle(when.span)
        if self.steps:
            message = "a 'when' between steps says nothing; what starts the cycle comes before the first step"
            cure = "'wait until START is pressed', say, or put it right under 'cycle'"
            self._fault("RW122", message, when.span, cure=cure)
        elif self.trigger is not None:
            message = "the cycle already has a 'when' that starts it"
            self._fault("RW122", message, when.span, cure="join the two conditions with 'and' or 'or'")
        else:
            self.trigger = tree.Trigger(when.condition, span=when.span, comments=self.when_comments)
        self.last = self.trigger

    def _step(self, clause: part.StepClause) -> None:
        step = clause.step
        if self._for_fault_rule(clause):
            return
        self._need_fault()
        self._need_for(step, clause.bare_time)
        if clause.astray is not None:
            name = clause.astray.text
            message = f"what {name} is to do is not said: 'hold' and 'wait' take no name"
            self._fault("RW135", message, clause.astray.span, cure=f"extend {name}, or wait until {name}")
        self._open_cycle(step.span)
        if self.first_of_line and self.line and self.line.indent <= self.block_indent:
            self._not_indented("the cycle above", step)
        self.first_of_line = False
        self.steps.append(replace(step, comments=self._comments()))
        self.last = self.steps[-1]
        if clause.within is not None:
            self._within(clause.within)

    def _for_fault_rule(self, clause: part.StepClause) -> bool:
        """Whether a step that only turns things on is said of a fault: same line, or indented under it."""
        rule = self.declarations[-1] if self.declarations else None
        if not isinstance(rule, tree.OnFault):
            return False
        if self.first_of_line and self.line and self.line.indent <= self.block_indent:
            return False
        step = clause.step
        turns = tuple(c for c in step.commands if isinstance(c, tree.Turn))
        if len(turns) < len(step.commands) or step.until or step.duration or clause.within:
            message = "on a fault things can only be turned on"
            self._fault("RW124", message, step.span, cure="when a fault is shown, turn on ALARM")
            self.doubtful = True
        self.declarations[-1] = replace(rule, turns=(*rule.turns, *turns), span=rule.span.to(step.span))
        return True

    def _ending(self, node: tree.Until | part.Duration) -> None:
        """``extend, until at-end``: what ends the step before."""
        if not self.steps or self.last is not self.steps[-1]:
            self._lost(node.span, "a step before it", "extend until at-end")
            return
        step = self.steps[-1]
        if step.until is not None or step.duration is not None:
            self._fault("RW126", "what ends this step has been said", node.span, cure="delete one of the two")
            return
        if isinstance(node, tree.Until):
            ended = replace(step, until=node, span=step.span.to(node.span))
        else:
            ended = replace(step, duration=node.time, span=step.span.to(node.span))
            self._need_for(ended, node)
        self.steps[-1] = self.last = ended

    def _need_for(self, step: tree.CycleStep, said: part.Duration | None) -> None:
        """A bare time is plain after a hold or a wait only."""
        if said is None or not said.bare or any(isinstance(c, tree.Wait) for c in step.commands):
            return
        time = said.time
        message, cure = "how long a command lasts is said with 'for'", f"for {time.number} {time.unit}"
        if dimension(time.unit) == "length":
            message = "a stroke ends at a switch or after a time, not at a length"
            cure = f"put a limit switch at {time.number} {time.unit} and say until that switch is made"
        self._fault("RW137", message, time.span, cure=cure)

    def _within(self, node: part.WithinClause) -> None:
        if not self.steps or self.last is not self.steps[-1]:
            self._lost(node.span, "a step before it", 'extend until at-end, within 8 s or fault "did not arrive"')
            return
        step = self.steps[-1]
        if step.within is not None or self.time_limit is not None:
            self.time_limit = None
            self._fault("RW126", "this step already has a time limit", node.span, cure="delete one of the two")
            return
        if node.message is None:
            self.time_limit = node
            return
        self._limit(node.time, node.message, node.span)

    def _limit(self, time: tree.Quantity, message: tree.Text, span: Span) -> None:
        step = self.steps[-1]
        within = tree.Within(time, tree.Fault(message, span=message.span), span=span)
        self.steps[-1] = replace(step, within=within, span=step.span.to(span))
        self.last = self.steps[-1]

    def _fault_clause(self, node: part.FaultClause) -> None:
        limit, self.time_limit = self.time_limit, None
        if limit is None or not self.steps:
            self._lost(node.span, "'within' and a time before it", 'within 8 s or fault "did not arrive"')
            return
        self._limit(limit.time, node.message, limit.span.to(node.span))

    def _need_fault(self) -> None:
        limit, self.time_limit = self.time_limit, None
        if limit is not None:
            message = "nothing is said to happen when this time is over"
            self._fault("RW127", message, limit.span, cure='within 8 s or fault "what did not happen"')

    def _lost(self, span: Span, wanted: str, cure: str = "") -> None:
        if not self.doubtful:
            self._fault("RW121", "this continues something that is not there", span, expected=wanted, cure=cure)

    def _fault(self, code: str, message: str, span: Span, *, expected: str = "", cure: str = "") -> None:
        self.found.append(Diagnostic(code, Severity.FAULT, message, span, expected, cure))


def _same(changed: tree.Line, before: L) -> L:
    assert isinstance(changed, type(before))
    return changed
