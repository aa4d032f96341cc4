"""Steps under construction, block within block: a stack of what is still open, the innermost last.

A block begins on a line of its own, and the lines indented under it belong to it. What follows its head on the same
line belongs to it too. A line at the column of the head, or further left, closes it; ``meanwhile`` and ``otherwise``
stand at the column of the ``together`` or ``if`` they go on with.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.sequence.margin import between_columns, too_far
from grammar.source import Span

__all__ = ["DEEPEST_BLOCK", "Body"]

DEEPEST_BLOCK = 12
"""How many blocks may stand inside one another."""


@dataclass(slots=True)
class _Part:
    """One line of work, one case, or the lines of a repeat; of the whole body where there is no head."""

    head: part.BlockHead | None = None
    comments: tree.Comments = field(default_factory=tree.Comments)
    steps: list[tree.Statement] = field(default_factory=list)
    doubtful: bool = False  # a clause in it could not be read: what is missing may have been that

    def span(self, head: Span) -> Span:
        return head.to(self.steps[-1].span) if self.steps else head


@dataclass(slots=True)
class _Block:
    """Something begun and not over. ``column`` is that of its head, ``inner`` that of its lines once one was read."""

    column: int
    line: int
    parts: list[_Part]
    inner: int | None = None
    ragged: int | None = None  # a column that has been told of


class Body:
    """The steps of a cycle, a routine or a way home. Feed it in order; ``close`` gives the finished statements."""

    def __init__(self, column: int) -> None:
        self.column = column
        self.found: list[Diagnostic] = []
        self.blocks = [_Block(column, 0, [_Part()])]

    @property
    def _open(self) -> _Part:
        return self.blocks[-1].parts[-1]

    @property
    def empty(self) -> bool:
        """Whether nothing has been said in it."""
        return len(self.blocks) == 1 and not self._open.steps

    @property
    def doubtful(self) -> bool:
        """Whether something in it was at fault, so that it may say more than was read."""
        return any(p.doubtful for block in self.blocks for p in block.parts)

    @property
    def nested(self) -> bool:
        """Whether a block in it is open."""
        return len(self.blocks) > 1

    @property
    def last(self) -> tree.Statement | None:
        """The newest statement, where nothing began after it."""
        return self._open.steps[-1] if self._open.steps else None

    @property
    def repeat(self) -> part.RepeatHead | None:
        """The head of a repeat that has just begun."""
        head = self._open.head
        return head if isinstance(head, part.RepeatHead) and not self._open.steps else None

    # --- lines

    def arrive(self, column: int, place: Span | None) -> None:
        """A line of steps begins at a column; what it is no part of is closed. ``place`` is where to tell a fault."""
        while len(self.blocks) > 1 and self.blocks[-1].column >= column:
            self._close()
        block = self.blocks[-1]
        if block.inner is None:
            block.inner = column
        if place is None or self._open.doubtful or column in (block.inner, block.ragged):
            return
        block.ragged = column
        if column > block.inner:
            self.found.append(too_far(place))
        elif len(self.blocks) > 1:
            self.found.append(between_columns(place))

    def doubt(self, column: int | None) -> None:
        """A clause could not be read; ``column`` where it began its line."""
        if column is not None:
            self.arrive(column, None)
        self._open.doubtful = True

    # --- what is said

    def add(self, statement: tree.Statement) -> None:
        """One more statement in the innermost block."""
        self._open.steps.append(statement)

    def change_last(self, statement: tree.Statement) -> None:
        """The newest statement, said on."""
        self._open.steps[-1] = statement

    def count_by(self, head: part.RepeatHead) -> None:
        """The head of the repeat that has just begun, said on."""
        self._open.head = head

    def begin(self, head: part.BlockHead, comments: tree.Comments, *, column: int, line: int, own: bool) -> None:
        """A block begins. ``own``: on a line of its own."""
        doubtful = not own
        if not own:
            message = f"{_called(head)} begins a block, and a block begins on a line of its own"
            self._fault("RW159", message, head.span, cure="start a new line before it")
        elif len(self.blocks) > DEEPEST_BLOCK and self._open.doubtful:
            doubtful = True  # told already
        elif len(self.blocks) > DEEPEST_BLOCK:
            message = f"more than {DEEPEST_BLOCK} blocks stand inside one another"
            self._fault("RW160", message, head.span, cure="give what is inside a name: routine INNER, then do INNER")
            doubtful = True
        self.blocks.append(_Block(column, line, [_Part(head, comments, doubtful=doubtful)]))

    def go_on(
        self,
        head: part.MeanwhileHead | part.OtherwiseHead,
        comments: tree.Comments,
        *,
        column: int,
        line: int,
        own: bool,
    ) -> None:
        """``meanwhile`` or ``otherwise``: what stands open at its column, or began on its line, goes on."""
        while own and len(self.blocks) > 1 and self.blocks[-1].column > column:
            self._close()
        block = self.blocks[-1]
        here = block.column == column if own else block.line == line
        first, last = block.parts[0].head, block.parts[-1].head
        fits = isinstance(first, part.TogetherHead if isinstance(head, part.MeanwhileHead) else part.IfHead)
        if len(self.blocks) > 1 and here and fits:
            if isinstance(last, part.OtherwiseHead) and last.condition is None:
                message = "nothing comes after the plain 'otherwise': it takes every case that is left"
                self._fault("RW158", message, head.span, cure="put it before the 'otherwise' without a condition")
            self._need_steps(block.parts[-1])
            block.parts.append(_Part(head, comments))
            block.inner = block.ragged = None
            return
        doubtful = self._open.doubtful
        if not doubtful:
            self._stray(head)
        while own and len(self.blocks) > 1 and self.blocks[-1].column >= column:
            self._close()
        self.blocks.append(_Block(column, line, [_Part(head, comments, doubtful=True)]))

    def _stray(self, head: part.MeanwhileHead | part.OtherwiseHead) -> None:
        word, owner = ("meanwhile", "together") if isinstance(head, part.MeanwhileHead) else ("otherwise", "if")
        message = f"'{word}' goes on with the '{owner}' above it, and there is none at its column"
        cure = f"begin with '{owner}', and start '{word}' at the same column"
        self._fault("RW158", message, head.span, cure=cure)

    def comment(self, change: Callable[[tree.Line], tree.Line]) -> bool:
        """Changes the newest line, a step or a head; False where there is none."""
        if self._open.steps:
            changed = change(self._open.steps[-1])
            assert isinstance(changed, tree.Statement)
            self._open.steps[-1] = changed
            return True
        if self._open.head is None:
            return False
        self._open.comments = change(tree.Together((), comments=self._open.comments)).comments
        return True

    # --- closing

    def close(self) -> tuple[tree.Statement, ...]:
        """Everything is over: the finished statements."""
        while len(self.blocks) > 1:
            self._close()
        return tuple(self._open.steps)

    def _close(self) -> None:
        block = self.blocks.pop()
        self._need_steps(block.parts[-1])
        head = block.parts[0].head
        if isinstance(head, part.TogetherHead) and len(block.parts) == 1 and not block.parts[0].doubtful:
            message = "only one line of work stands under 'together', and its steps come one after another"
            cure = "put 'meanwhile' before what goes on at the same time, or join commands with 'and'"
            self._fault("RW161", message, head.span, cure=cure)
        made = _made(block)
        if made is not None and len(self.blocks) <= DEEPEST_BLOCK:  # deeper ones were told of
            self._open.steps.append(made)
        self._open.doubtful |= any(p.doubtful for p in block.parts)

    def _need_steps(self, last: _Part) -> None:
        if last.steps or last.doubtful or last.head is None:
            return
        message = f"nothing is said to be done under {_called(last.head)}"
        self._fault("RW157", message, last.head.span, cure="write its steps under it, indented")
        last.doubtful = True

    def _fault(self, code: str, message: str, span: Span, *, cure: str) -> None:
        self.found.append(Diagnostic(code, Severity.FAULT, message, span, cure=cure))


def _called(head: part.BlockHead) -> str:
    match head:
        case part.TogetherHead():
            return "'together'"
        case part.MeanwhileHead():
            return "'meanwhile'"
        case part.IfHead():
            return "'if'"
        case part.OtherwiseHead():
            return "'otherwise'"
        case part.RepeatHead():
            return "'repeat'"


def _made(block: _Block) -> tree.Statement | None:
    """The statement a block is; None where its head was at fault."""
    first = block.parts[0]
    head = first.head
    match head:
        case part.TogetherHead():
            branches = tuple(
                tree.Branch(tuple(p.steps), span=p.span(p.head.span), comments=_own(p, first))
                for p in block.parts
                if p.head is not None
            )
            return tree.Together(branches, span=head.span.to(branches[-1].span), comments=first.comments)
        case part.IfHead():
            cases = tuple(
                tree.Case(p.head.condition, tuple(p.steps), span=p.span(p.head.span), comments=_own(p, first))
                for p in block.parts
                if isinstance(p.head, part.IfHead | part.OtherwiseHead)
            )
            return tree.Choice(cases, span=head.span.to(cases[-1].span), comments=first.comments)
        case part.RepeatHead(times, until, while_, counter):
            repeat = tree.Repeat(tuple(first.steps), times, until, while_, counter, span=first.span(head.span))
            return replace(repeat, comments=first.comments)
        case _:
            return None


def _own(this: _Part, first: _Part) -> tree.Comments:
    """The comments of a branch or case; those of the first stand by the word that begins the whole."""
    return tree.Comments() if this is first else this.comments
