"""When an action is on: what its qualifiers make of the steps it stands in.

The structure is that of the ACTION_CONTROL block, without the last scan after an action goes off (IEC 61131-3:2003
2.6.4.5, from memory). Two differences: an action that is pulsed from several steps is pulsed by each, and P0 does not
act as the supply comes on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from compiler.program.sfc_words import assign, boolean, conjunction, disjunction, negation, pin, variable
from grammar.sfc.tree import Association, Qualifier
from grammar.source import Span
from grammar.structured_text.tree import Call, Duration, Expression, Given, Name, Statement

__all__ = ["Control"]

Flag = Callable[[str, Span], str]
Block = Callable[[str, str, Span], str]


@dataclass
class Control:
    """One action. ``steps`` are the flags of the steps it stands in under each qualifier."""

    name: Name
    steps: dict[Qualifier, list[str]] = field(default_factory=dict)
    time: Expression | None = None
    parts: list[Expression] = field(default_factory=list)  # what puts it on, made by ``prepare``

    def add(self, one: Association, flag: str, span: Span) -> None:
        """It stands in one more step."""
        self.steps.setdefault(one.qualifier, []).append(flag)
        self.time = one.time or self.time

    def on(self) -> Expression:
        """That it is on. An overriding reset masks everything."""
        on = disjunction(self.parts) if self.parts else boolean(self.name.span)
        return conjunction([on, negation(self._any(Qualifier.RESET))]) if Qualifier.RESET in self.steps else on

    def _any(self, qualifier: Qualifier) -> Expression:
        flags = self.steps.get(qualifier, [])
        return disjunction([variable(flag, self.name.span) for flag in flags]) if flags else boolean(self.name.span)

    def prepare(self, flag: Flag, block: Block) -> Iterator[Statement]:
        """The statements that come before it is known whether it is on."""
        for qualifier in self.steps:
            match qualifier:
                case Qualifier.NON_STORED:
                    self.parts.append(self._any(qualifier))
                case Qualifier.SET:
                    yield self._latch(block, "S", self._any(qualifier))
                    self.parts.append(self._pin("S", "Q1"))
                case Qualifier.PULSE | Qualifier.PULSE_RISING | Qualifier.PULSE_FALLING:
                    yield from self._pulses(qualifier, flag)
                case Qualifier.RESET:
                    pass
                case _:
                    yield from self._timed(qualifier, block)

    def _timed(self, qualifier: Qualifier, block: Block) -> Iterator[Statement]:
        now, word = self._any(qualifier), str(qualifier)
        match qualifier:
            case Qualifier.LIMITED:
                yield self._timer(block, word, now)
                self.parts.append(conjunction([now, negation(self._pin(f"{word} time", "Q"))]))
            case Qualifier.DELAYED:
                yield self._timer(block, word, now)
                self.parts.append(self._pin(f"{word} time", "Q"))
            case Qualifier.STORED_DELAYED:
                yield self._latch(block, word, now)
                yield self._timer(block, word, self._pin(word, "Q1"))
                self.parts.append(self._pin(f"{word} time", "Q"))
            case Qualifier.DELAYED_STORED:
                yield self._timer(block, word, now)
                yield self._latch(block, word, self._pin(f"{word} time", "Q"))
                self.parts.append(self._pin(word, "Q1"))
            case _:
                yield self._latch(block, word, now)
                yield self._timer(block, word, self._pin(word, "Q1"))
                on = [self._pin(word, "Q1"), negation(self._pin(f"{word} time", "Q"))]
                self.parts.append(conjunction(on))

    def _pulses(self, qualifier: Qualifier, flag: Flag) -> Iterator[Statement]:
        """One scan as a step becomes active, or as it is left."""
        span = self.name.span
        for step in self.steps[qualifier]:
            pulse = flag(self._own(f"{qualifier} {step}"), span)
            before = flag(self._own(f"{qualifier} {step} before"), span)
            now, was = variable(step, span), variable(before, span)
            edge = [was, negation(now)] if qualifier is Qualifier.PULSE_FALLING else [now, negation(was)]
            yield assign(pulse, conjunction(edge), span)
            yield assign(before, now, span)
            self.parts.append(variable(pulse, span))

    # --- blocks -------------------------------------------------------------------------------------------

    def _own(self, what: str) -> str:
        return f"{self.name.text} {what}"

    def _pin(self, what: str, name: str) -> Expression:
        return pin(self._own(what), name, self.name.span)

    def _latch(self, block: Block, word: str, begins: Expression) -> Call:
        span = self.name.span
        given = (Given(Name("S"), begins, span=span), Given(Name("R1"), self._any(Qualifier.RESET), span=span))
        return Call(Name(block(self._own(word), "RS", span), span=span), given, span=span)

    def _timer(self, block: Block, word: str, begins: Expression) -> Call:
        span = self.name.span
        time = self.time or Duration("T#1s", span=span)  # a time that is missing has been told
        given = (Given(Name("IN"), begins, span=span), Given(Name("PT"), time, span=span))
        return Call(Name(block(self._own(f"{word} time"), "TON", span), span=span), given, span=span)
