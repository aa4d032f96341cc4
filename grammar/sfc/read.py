"""The reader: the text of a function chart in, a tree and every fault of its own out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from grammar.deceiving import deceiving
from grammar.diagnostic import Diagnostic
from grammar.reading import Reading
from grammar.sfc.check import check
from grammar.sfc.elements import Elements, RawAction, RawTransition, elements, span_of
from grammar.sfc.faults import fault
from grammar.sfc.tree import Action, Network, Transition
from grammar.source import Source, Span
from grammar.structured_text.build import unit
from grammar.structured_text.parse import MOST_CHARACTERS, between, parse_words, too_long, words
from grammar.structured_text.tree import Assignment, Boolean, Expression, Statement, Unit

if TYPE_CHECKING:
    from lark import Token

__all__ = ["read"]


def read(source: Source) -> Reading[Network | None]:
    """The chart that a text holds, with what is said of its grammar, steps, transitions and qualifiers.

    Names and kinds in actions and conditions are not judged yet, since they may speak of steps. The tree is None when
    the text is no function block or program at all; nothing is raised.
    """
    text = source.text
    if len(text) > MOST_CHARACTERS:
        return Reading(source, None, (too_long(),))
    tokens = words(text)
    if not tokens:
        message = "there is no function chart here"
        return Reading(source, None, (fault("RW531", message, Span(0, 0), expected="FUNCTION_BLOCK and its name"),))
    reader = _Reader(text, [*between(text, tokens)])
    found = elements(tokens)
    told = [*found.told]
    network = reader.network(found)
    told += reader.told
    told += deceiving(text, told)
    if network is not None:
        told += check(network)
    return Reading(source, network, tuple(sorted(told, key=lambda d: d.span or Span(0, 0))))


class _Reader:
    """Has the parser of structured text read what is in its language, each part between words that make it a unit."""

    def __init__(self, text: str, told: list[Diagnostic]) -> None:
        self._text = text
        self.told = told
        self._lost: frozenset[str] = frozenset()

    def network(self, found: Elements) -> Network | None:
        """All of it; None where the text does not even begin."""
        head = self._unit([*found.head, _end(found.head, found.end)])
        if head is None:
            return None
        if head.body:
            cure = "write the statements in an ACTION of a step"
            self.told.append(fault("RW531", "a statement can't stand here", head.body[0].span, cure=cure))
        transitions = tuple(self._transition(raw) for raw in found.transitions)
        actions = tuple(self._action(raw) for raw in found.actions)
        steps = tuple(found.steps)
        return Network(
            head.kind, head.name, head.sections, steps, transitions, actions, head.shared, self._lost, span=head.span
        )

    def _unit(self, tokens: Sequence[Token]) -> Unit | None:
        parsed = parse_words(self._text, list(tokens))
        self.told += parsed.told
        self._lost |= parsed.lost
        return None if parsed.tree is None else unit(parsed.tree)

    def _body(self, tokens: Sequence[Token], end: Token) -> tuple[Statement, ...]:
        """Statements, as if they were those of a unit. The word that ends their element ends it."""
        beside = tokens[0] if tokens else end
        opening = [_made_up("FUNCTION_BLOCK", "", beside), _made_up("IDENT", "Body", beside)]
        read = self._unit([*opening, *tokens, _made_up("END_FUNCTION_BLOCK", str(end), end)])
        return () if read is None else read.body

    def _action(self, raw: RawAction) -> Action:
        return Action(raw.name, self._body(raw.body, raw.end), span=raw.span)

    def _transition(self, raw: RawTransition) -> Transition:
        condition: Expression = Boolean(False, span=raw.span)
        if not raw.condition:
            self.told.append(fault("RW531", "a condition is missing", span_of(raw.end), expected="a condition"))
        else:
            beside = raw.condition[0]
            assigned = [_made_up("IDENT", "Condition", beside), _made_up("ASSIGN", ":=", beside), *raw.condition]
            first, *more = self._body(assigned, raw.end) or (None,)
            if isinstance(first, Assignment):
                condition = first.value
            if more and more[0] is not None:
                message = "a transition has one condition, and this is more"
                self.told.append(fault("RW531", message, more[0].span, expected="END_TRANSITION"))
        return Transition(raw.sources, raw.targets, condition, raw.name, raw.priority, span=raw.span)


def _end(head: Sequence[Token], end: Token) -> Token:
    """The word that ends the unit, whichever the text has: a unit that is not ended has been told."""
    program = any(word.type == "PROGRAM" for word in head)
    kind = "END_PROGRAM" if program else "END_FUNCTION_BLOCK"
    return end if end.type.startswith("END_") else _made_up(kind, "", end)


def _made_up(kind: str, text: str, beside: Token) -> Token:
    from lark import Token

    return Token.new_borrow_pos(kind, text, beside)
