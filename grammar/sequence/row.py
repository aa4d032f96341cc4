"""What is said of steps, clause by clause: each step with what ends it, in the block where it stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from grammar.diagnostic import Diagnostic
from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.sequence.blocks import Body
from grammar.sequence.ending import astray, ended, limited, lost, need_for, no_fault, twice_limited

__all__ = ["Continuing", "Row", "Saying", "Where"]

Continuing = tree.Until | part.Duration | part.WithinClause | part.FaultClause | part.CountedBy
"""What goes on with a step, or with the head of a block, that was said just before."""

Saying = part.Steps | tree.Letters | part.BlockHead
"""Steps, and what orders steps."""


@dataclass(frozen=True, slots=True)
class Where:
    """Where a clause stands: the column and number of its line, and whether it is the first (its ``own`` line).

    ``comments`` takes the comments that wait for a line to stand above.
    """

    column: int
    line: int
    own: bool
    comments: Callable[[], tree.Comments]


class Row:
    """The steps of a cycle, a routine or a way home. ``body`` holds them; ``found`` is what is wrong with clauses."""

    def __init__(self, column: int) -> None:
        self.body = Body(column)
        self.found: list[Diagnostic] = []
        self.fresh = False  # the newest statement may be gone on with
        self.time_limit: part.WithinClause | None = None  # a "within" whose fault may follow

    def say(self, node: Saying, where: Where) -> None:
        """Steps, letters, or what begins a block or goes on with one."""
        self.need_fault()
        match node:
            case part.MeanwhileHead() | part.OtherwiseHead():
                self.body.go_on(node, where.comments(), column=where.column, line=where.line, own=where.own)
                self._inside(node.steps, where)
            case part.IfHead(steps=steps):
                self._begin(node, where)
                self._inside(steps, where)
            case part.TogetherHead() | part.RepeatHead():
                self._begin(node, where)
            case part.Steps():
                self._arrive(node, where)
                self._inside(node, where)
            case tree.Letters():
                self._letters(node, where)

    def _arrive(self, node: tree.Node, where: Where) -> None:
        if where.own:
            self.body.arrive(where.column, node.span)

    def _begin(self, head: part.BlockHead, where: Where) -> None:
        self._arrive(head, where)
        self.body.begin(head, where.comments(), column=where.column, line=where.line, own=where.own)
        self.fresh = False

    def _inside(self, steps: part.Steps | None, where: Where) -> None:
        self.fresh = False
        for step in steps.steps if steps else ():
            self._step(step, where)

    def _step(self, said: part.StepClause | tree.Do, where: Where) -> None:
        self.need_fault()
        if isinstance(said, tree.Do):
            self.body.add(replace(said, comments=where.comments()))
            self.fresh = False
            return
        self._note(need_for(said.step, said.bare_time))
        self._note(astray(said.astray) if said.astray else None)
        self.body.add(replace(said.step, comments=where.comments()))
        self.fresh = True
        if said.within is not None:
            self.go_on(said.within)

    def _letters(self, node: tree.Letters, where: Where) -> None:
        """Letters parted by commas on one line are one row of moves."""
        before = self.body.last
        self._arrive(node, where)
        if not where.own and self.fresh and isinstance(before, tree.Letters):
            self.body.change_last(replace(before, moves=(*before.moves, *node.moves), span=before.span.to(node.span)))
        else:
            self.body.add(replace(node, comments=where.comments()))
        self.fresh = True

    def go_on(self, node: Continuing) -> None:
        """A clause that belongs to the one just before it."""
        last = self.body.last if self.fresh else None
        step = last if isinstance(last, tree.CycleStep) else None
        match node:
            case part.CountedBy():
                self._counted_by(node)
            case part.FaultClause():
                limit, self.time_limit = self.time_limit, None
                if limit is None or step is None:
                    self.found.append(lost(node))
                else:
                    self.body.change_last(limited(step, limit.time, node.message, limit.span.to(node.span)))
            case _ if step is None:
                self.found.append(lost(node))
            case tree.Until() | part.Duration():
                told = ended(step, node)
                if isinstance(told, Diagnostic):
                    self.found.append(told)
                else:
                    self.body.change_last(told)
            case part.WithinClause(time, message):
                if step.within is not None or self.time_limit is not None:
                    self.time_limit = None
                    self.found.append(twice_limited(node.span))
                elif message is None:
                    self.time_limit = node
                else:
                    self.body.change_last(limited(step, time, message, node.span))

    def _counted_by(self, node: part.CountedBy) -> None:
        head = self.body.repeat
        if head is None or head.times is None or head.counter is not None:
            self.found.append(lost(node))
        else:
            self.body.count_by(replace(head, counter=node.counter, span=head.span.to(node.span)))

    def need_fault(self) -> None:
        """Something else follows: a time limit still open has nothing that happens when it is over."""
        limit, self.time_limit = self.time_limit, None
        self._note(no_fault(limit.span) if limit else None)

    def _note(self, told: Diagnostic | None) -> None:
        if told is not None:
            self.found.append(told)

    def doubt(self, column: int | None) -> None:
        """A clause could not be read; ``column`` where it began its line."""
        self.body.doubt(column)
        self.fresh, self.time_limit = False, None

    def close(self) -> tuple[tree.Statement, ...]:
        """Everything is over: the finished statements, and all that was found."""
        self.need_fault()
        steps = self.body.close()
        self.found += self.body.found
        return steps
