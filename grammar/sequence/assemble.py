"""From clauses to the program: each clause joined to the one it continues, comments to the line they stand by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from grammar.diagnostic import Diagnostic, Severity
from grammar.layout import Clause, Line
from grammar.sequence import clauses as part
from grammar.sequence import cylinder, motor, tree
from grammar.sequence.ending import lost
from grammar.sequence.margin import indented, not_indented
from grammar.sequence.row import Continuing, Row, Saying, Where
from grammar.sequence.rules import RESPONSES, WHOLE, answers, misplaced, no_steps, time_of_a_stroke, turned_on
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
        self.row: Row | None = None  # the steps of the last declaration, where it has any
        self.above: list[str] = []
        self.last: tree.Node | None = None  # what a continuing clause may belong to
        self.when: part.When | None = None
        self.when_comments = tree.Comments()
        self.when_column = 0
        self.when_own = False  # it began its line
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
            return
        newest = self.declarations[-1] if self.declarations else None
        if self.items:
            self.items[-1] = _same(change(self.items[-1]), self.items[-1])
        elif isinstance(newest, tree.Cycle) and newest.again is not None:
            self.declarations[-1] = replace(newest, again=_same(change(newest.again), newest.again))
        elif self.row is not None and self.row.body.comment(change):
            pass
        elif isinstance(newest, tree.Cycle) and newest.trigger is not None:
            self.declarations[-1] = replace(newest, trigger=_same(change(newest.trigger), newest.trigger))
        elif newest is not None:
            self.declarations[-1] = _same(change(newest), newest)
        elif self.line is not None and self.line.comment:
            self.above.append(self.line.comment)

    def _comments(self) -> tree.Comments:
        taken = tree.Comments(tuple(self.above))
        self.above = []
        return taken

    # --- clauses

    def add(self, node: tree.Node) -> None:
        """One more clause, in the order written."""
        if self.when is not None and isinstance(node, part.FinishClause) and node.condition is not None:
            self._fault(
                "RW122", "this rule says 'when' twice", node.span, cure="join the conditions with 'and' or 'or'"
            )
            node = replace(node, condition=None)
        if self.when is not None and not (answers(node) or isinstance(node, part.FaultClause)):
            self._settle_when()
        match node:
            case _ if isinstance(node, WHOLE):
                self._declare(replace(node, comments=self._comments()))
            case _ if isinstance(node, Saying):
                self._say(node)
            case _ if isinstance(node, Continuing):
                self._go_on(node)
            case _ if isinstance(node, part.Response) and answers(node):
                self._answer(node)
            case part.CylinderHead():
                self._declare(tree.Cylinder(node.medium, node.name, span=node.span, comments=self._comments()))
            case part.MotorHead():
                self._declare(replace(motor.begun(node), comments=self._comments()))
            case part.MotorSides():
                self._motor_sides(node)
            case part.PumpHead():
                self._declare(tree.Pump(span=node.span, comments=self._comments()))
            case part.Another():
                self._another(node)
            case part.CycleHead():
                self._declare(tree.Cycle(None, (), node.station, span=node.span, comments=self._comments()))
            case part.RoutineHead():
                self._declare(tree.Routine(node.name, (), span=node.span, comments=self._comments()))
            case part.When(response=response):
                self._need_fault()
                self.when, self.when_comments = node, self._comments()
                self.when_column, self.when_own = self._column, self.first_of_line
                if response is not None:
                    self._answer(response)
            case part.FinishClause(condition=condition) if condition is not None:
                self._declare(tree.FinishCycle(condition, span=node.span, comments=self._comments()))
            case part.WhenFault():
                self._declare(tree.OnFault((), span=node.span, comments=self._comments()))
            case tree.Again():
                self._again(node)
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
        if self.row is not None:
            self.row.doubt(self._column if self.first_of_line else None)
        self.last = None
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
        self.block_indent = self._column
        if isinstance(node, tree.Cycle | tree.Routine):
            self.row = Row(self._column)
        if self.first_of_line and self.block_indent and not isinstance(node, tree.Cycle):
            self.found.append(indented(node.span))

    def _close(self) -> None:
        """Puts the lines gathered for the open cylinder or cycle into it."""
        self._need_fault()
        if not self.declarations:
            return
        match self.declarations[-1]:
            case tree.Cylinder() | tree.Pump() as open_:
                self.items, lacking = cylinder.whole(self.items)
                self.found += lacking
                end = self.items[-1].span if self.items else open_.span
                self.declarations[-1] = replace(open_, items=tuple(self.items), span=open_.span.to(end))
            case tree.Cycle() | tree.Routine() | tree.StopRule() as open_:
                self.declarations[-1] = self._with_body(open_)
            case tree.MotorDevice() as open_:
                self.found += [] if self.doubtful else motor.missing(open_)
            case tree.OnFault(turns=()) as open_ if not self.doubtful:
                cure = "when a fault is shown, turn on ALARM"
                self._fault("RW124", "nothing is said to be turned on here", open_.span, cure=cure)
            case _:
                pass
        self.items, self.row = [], None

    def _with_body(self, node: tree.Cycle | tree.Routine | tree.StopRule) -> tree.Declaration:
        """The declaration with the steps gathered for it."""
        if self.row is None:
            return node
        steps = self.row.close()
        self._take(self.row)
        if not steps and not self.doubtful and not self.row.body.doubtful:
            self.found.append(no_steps(node))
        span = node.span.to(steps[-1].span) if steps else node.span
        match node:
            case tree.Cycle(trigger=trigger, again=again):
                inside = [n.span for n in (trigger, *steps, again) if n is not None]
                return replace(node, steps=steps, span=node.span.to(inside[-1]) if inside else node.span)
            case tree.Routine():
                return replace(node, steps=steps, span=span)
            case tree.StopRule():
                home = tree.ReturnHome(steps, span=node.response.span.to(span))
                return replace(node, response=home, span=span)

    def _another(self, node: part.Another) -> None:
        match self.last:
            case tree.InputDevice() as before:
                contact = node.contact or "normally open"
                again = replace(before, name=node.name, contact=contact, span=node.span, comments=self._comments())
                self._declare(again)
            case tree.LoadDevice() | tree.CounterDevice() | tree.SignalDevice() as before:
                self._declare(replace(before, name=node.name, span=node.span, comments=self._comments()))
            case _:
                self._lost(node.span, "a device before it")

    def _motor_sides(self, node: part.MotorSides) -> None:
        newest = self.declarations[-1] if self.declarations else None
        if not isinstance(newest, tree.MotorDevice):
            self._lost(node.span, "'hydraulic motor' or 'electric motor' and its name before it")
            self.doubtful = True  # once is enough for both directions
            return
        self.last = self.declarations[-1] = motor.joined(newest, node, self.found)

    # --- cylinders

    def _cylinder_line(self, node: tree.Node) -> None:
        owner = self.declarations[-1] if self.declarations else None
        if not isinstance(owner, tree.Cylinder | tree.Pump):
            self._outside(node)
            return
        count = len(self.items)
        joined = cylinder.join(self.items, node, pump=isinstance(owner, tree.Pump))
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
            self.found.append(not_indented("the cylinder or pump above", node.span))

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

    # --- cycle and rules

    @property
    def _column(self) -> int:
        return self.line.indent if self.line else 0

    def _open_row(self, span: Span) -> Row:
        """The steps open here; where there are none a cycle begins that is not called so."""
        newest = self.declarations[-1] if self.declarations else None
        # A cycle goes on until something else begins; other steps only as far as they are indented.
        goes_on = isinstance(newest, tree.Cycle) or not self.first_of_line
        if self.row is None or not (goes_on or self._column > self.row.body.column):
            self._close()
            self.declarations.append(tree.Cycle(None, (), span=Span(span.start, span.start)))
            self.block_indent = -1
            self.row = Row(-1)
            if self.doubtful:
                self.row.doubt(None)
        return self.row

    def _answer(self, node: part.Response) -> None:
        """What a ``when`` makes happen: it is a rule, not what starts the cycle."""
        if self.when is None:
            cure = f"when STOP is pressed, {RESPONSES[type(node)]}"
            self._lost(node.span, "'when' and what is pressed before it", cure)
            return
        when, self.when = self.when, None
        self.first_of_line = False
        span, above = when.span.to(node.span), self.when_comments
        if self.when_own and self.when_column:
            self.found.append(indented(span))
        if isinstance(node, part.FinishClause):
            self._declare(tree.FinishCycle(when.condition, span=span, comments=above))
            return
        self._declare(tree.StopRule(when.condition, node, span=span, comments=above))
        if isinstance(node, tree.ReturnHome):
            self.block_indent = self.when_column
            self.row = Row(self.when_column)

    def _settle_when(self) -> None:
        """No ``drop out`` or the like followed: it is what starts the cycle."""
        when, self.when = self.when, None
        assert when is not None
        row = self._open_row(when.span)
        cycle = self.declarations[-1]
        fault = misplaced(when, cycle, begun=not row.body.empty)
        if fault is not None or not isinstance(cycle, tree.Cycle):
            self.found += [fault] if fault else []
            return
        trigger = tree.Trigger(when.condition, span=when.span, comments=self.when_comments)
        self.declarations[-1] = replace(cycle, trigger=trigger)

    def _again(self, node: tree.Again) -> None:
        row = self._open_row(node.span)
        row.fresh = False
        if self.first_of_line:
            row.body.arrive(self._column, None)
        cycle = self.declarations[-1]
        if not isinstance(cycle, tree.Cycle) or row.body.nested or cycle.again is not None:
            message = "'again while' is the last line of a cycle, and is said once"
            self._fault("RW162", message, node.span, cure="inside a cycle: repeat while, or repeat until")
            return
        self.declarations[-1] = replace(cycle, again=replace(node, comments=self._comments()))

    def _say(self, node: Saying) -> None:
        """Steps, or what orders steps."""
        if isinstance(node, part.Steps) and self._for_fault_rule(node):
            return
        if (told := time_of_a_stroke(node, self.declarations[-1] if self.declarations else None)) is not None:
            self.found.append(told)
            return
        row = self._open_row(node.span)
        cycle = self.declarations[-1]
        if isinstance(cycle, tree.Cycle) and cycle.again is not None:
            message = "the cycle begins anew here; no step comes after it"
            self._fault("RW162", message, cycle.again.span, cure="make it the last line of the cycle")
            self.declarations[-1] = replace(cycle, again=None)
        if self.first_of_line and self._column <= self.block_indent:
            self.found.append(not_indented("the cycle above", node.span))
        line = self.line.number if self.line else 0
        row.say(node, Where(self._column, line, self.first_of_line, self._comments))
        self.last = None
        self._take(row)

    def _go_on(self, node: Continuing) -> None:
        if self.row is None:
            self.found += [] if self.doubtful else [lost(node)]
            return
        self.row.go_on(node)
        self._take(self.row)

    def _take(self, row: Row) -> None:
        """What a row found; what continues an unreadable clause is no fault of its own."""
        self.found += [d for d in row.found if not (self.doubtful and d.code == "RW121")]
        row.found = []

    def _for_fault_rule(self, node: part.Steps) -> bool:
        """Whether steps that only turn things on are said of a fault: same line, or indented under it."""
        rule = self.declarations[-1] if self.declarations else None
        if not isinstance(rule, tree.OnFault):
            return False
        if self.first_of_line and self._column <= self.block_indent:
            return False
        for said in node.steps:
            turns = turned_on(said)
            if isinstance(turns, Diagnostic):
                self.found.append(turns)
                self.doubtful = True
            else:
                rule = replace(rule, turns=(*rule.turns, *turns), span=rule.span.to(said.span))
        self.declarations[-1] = rule
        return True

    def _need_fault(self) -> None:
        if self.row is not None:
            self.row.need_fault()
            self._take(self.row)

    def _lost(self, span: Span, wanted: str, cure: str = "") -> None:
        if not self.doubtful:
            self._fault("RW121", "this continues something that is not there", span, expected=wanted, cure=cure)

    def _fault(self, code: str, message: str, span: Span, *, expected: str = "", cure: str = "") -> None:
        self.found.append(Diagnostic(code, Severity.FAULT, message, span, expected, cure))


def _same(changed: tree.Line, before: L) -> L:
    assert isinstance(changed, type(before))
    return changed
