"""One moment of a run in words: every change with its cause, or one sentence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import zip_longest

from compiler.chart import Chart
from compiler.condition import Condition, Elapsed, Not, Rise, Signal
from compiler.machine import InputKind, Machine
from compiler.simulation.run import EventKind
from compiler.walk.changes import CoilChange, Fact, Held, InputChange, Instant, Refused, StepChange, Stroke, World
from grammar.rungs.tree import Kind
from targets.walkthrough.cascades import cascades
from targets.walkthrough.coils import (
    back_to_rest,
    cascade_sentences,
    coil_verb,
    fallen_back,
    output_sentences,
    plural,
    round_sentences,
)
from targets.walkthrough.motion import (
    arrivals,
    is_arrival,
    motor_verb,
    pump_sentence,
    setting_out,
    stroke_verb,
)
from targets.walkthrough.steps import Sequence, parts_of
from targets.walkthrough.told import Sentence
from targets.walkthrough.words import capital, listed, lowered, named_contacts, rung_words

__all__ = ["Teller", "refused_words"]


@dataclass
class Teller:
    """Tells moments of one run, one after another; it remembers what need be said only once. Without ``contacts`` of
    relays only those are told of that move something on."""

    machine: Machine
    chart: Chart
    by_rungs: bool
    pump_told: bool = False
    contacts: bool = True

    @cached_property
    def sequence(self) -> Sequence:
        """Steps and conditions in the words of the sequence."""
        return Sequence(self.machine, self.chart)

    def full(self, instant: Instant) -> tuple[Sentence, ...]:
        """Every change of a moment, in order of cause."""
        found = [*self._world(instant), *arrivals(self.machine, instant)]
        found += [sentence for held in instant.held for sentence in self._held(held)]
        found += self._coils(instant)
        if instant.steps is not None and not instant.parted:
            found += self._steps(instant, instant.steps)
        found += output_sentences(instant.outputs)
        found += setting_out(self.machine, instant)
        if instant.pump is not None:
            found += pump_sentence(self.machine, instant.pump, first=not self.pump_told)
            self.pump_told = self.pump_told or not instant.pump.wanted
        return tuple(found)

    def _coils(self, instant: Instant) -> Iterator[Sentence]:
        """Round by round what coils do, chains of relays in one sentence each; then what fell back to rest."""
        loads = [change.terminal for change in instant.outputs if change.terminal is not None]
        chains = cascades(instant)
        inside = {id(change) for chain in chains for change in chain.members}
        later = [t for changes in instant.coils for c in changes if id(c) not in inside for t in c.terminals]
        fallen: list[str] = []
        for k, (changes, following) in enumerate(zip_longest(instant.coils, instant.coils[1:], fillvalue=())):
            effects = [*(t for change in following for t in change.terminals), *loads]
            for chain in (chain for chain in chains if chain.at == k):
                wanted = [*later, *loads] if self.contacts else None
                yield from cascade_sentences(chain, wanted, first_too=chain.first in fallen)
                fallen = [name for name in fallen if name != chain.first]
            alone = [change for change in changes if id(change) not in inside]
            yield from round_sentences(alone, instant.sealed, effects if self.contacts else None)
            fallen += fallen_back(alone, effects) if self.contacts else ()
        yield from back_to_rest(fallen)

    def phase(self, before: Instant, instant: Instant) -> Iterator[Sentence]:
        """Which steps of the sequence a moment begins, where it is told by rungs and the steps are not."""
        sequence, shape = self.sequence, self.sequence.shape
        begun = instant.active - before.active - shape.memory
        if not self.by_rungs or instant.parted or instant.active == before.active:
            return
        if shape.resting(instant.active) and not shape.resting(before.active):
            yield Sentence("With that the cycle is over.")
            return
        names = [name for name in sequence.ordered(begun) if not sequence.is_rest(name)]
        working = [name for name in names if not sequence.waits(name)]
        if working:
            yield Sentence(f"This begins {listed(sequence.step(name) for name in working)}.")
        elif names:
            yield Sentence(f"This branch now waits for the others ({listed(names)}).")

    def short(self, instant: Instant, *, arrivals_too: bool = True) -> tuple[Sentence, ...]:
        """One sentence where a load, a motor, a rod's stroke or a timer changed; none where nothing did, or
        without ``arrivals_too`` where a rod only came to an end."""
        begun = [s for s in instant.strokes if not is_arrival(s)]
        timers = [c for one in instant.coils for c in one if c.device.kind is Kind.TIMER]
        strokes = instant.strokes if arrivals_too else begun
        if instant.at_us == 0 or not (instant.outputs or instant.motors or strokes or timers):
            return ()
        effects = [*self._coil_phrases(instant), *self._output_phrases(instant)]
        effects += [f"{m.signal} {motor_verb(m)}" for m in instant.motors]
        effects += _strokes(begun)
        lead = self._lead(instant)
        rungs = tuple(sorted({t.rung for one in instant.coils for c in one for t in c.terminals}))
        text = ": ".join(part for part in (lead, listed(effects)) if part)
        facts: tuple[Fact, ...] = (*instant.outputs, *instant.motors, *instant.strokes)
        return (Sentence(f"{capital(text)}.", rungs, facts),) if text else ()

    # --- what comes from outside ------------------------------------------------------------------------------

    def _world(self, instant: Instant) -> Iterator[Sentence]:
        for what in instant.world:
            yield Sentence(f"{capital(world_words(what, instant.at_us))}.", (), (what,))
        by_hand = [change for change in instant.inputs if not change.by]
        if by_hand:
            text = listed(self.input_words(change) for change in by_hand)
            idle = not (instant.coils or instant.outputs or instant.steps or instant.held)
            refused = [r for r in instant.refused if r.contact.name.text in {change.signal for change in by_hand}]
            rungs = tuple(sorted({r.rung for r in refused})) if idle else ()
            why = f"; {refused_words(refused)}, so nothing else changes" if rungs else "; nothing else changes"
            yield Sentence(f"{capital(text)}{why if idle else ''}.", rungs, tuple(by_hand))

    def input_words(self, change: InputChange) -> str:
        """What a hand or the world outside did to an input."""
        match self.machine.input(change.signal).kind:
            case InputKind.PUSHBUTTON:
                return f"the operator {'presses' if change.on else 'lets go of'} {change.signal}"
            case InputKind.SELECTOR:
                return f"the operator turns {change.signal} {'on' if change.on else 'off'}"
            case _:
                return f"{change.signal} {'is made' if change.on else 'lets go'}"

    def _held(self, held: Held) -> Iterator[Sentence]:
        verb = "opens" if len(held.opened) == 1 else "open"
        through = f" through {named_contacts(held.through)}" if held.through else ""
        text = f"{named_contacts(held.opened)} {verb} in {rung_words([held.rung])}, which stays live{through}."
        yield Sentence(text, (held.rung,), (held,))

    # --- the chart --------------------------------------------------------------------------------------------

    def _steps(self, instant: Instant, change: StepChange) -> Iterator[Sentence]:
        sequence = self.sequence
        if change.forced and self.chart.forcing is not None:
            yield Sentence(
                self._because(instant, self.chart.forcing.condition, self._forced(change.entered)), (), (change,)
            )
            return
        facts: tuple[Fact, ...] = (change,)
        explained: set[str] = set()
        for t in change.transitions:
            explained.update(t.sources, t.targets)
            yield Sentence(self._because(instant, t.condition, sequence.going(t.sources, t.targets)), (), facts)
            facts = ()
        left = tuple(name for name in change.left if name not in explained)
        entered = tuple(name for name in change.entered if name not in explained)
        if left and entered:
            yield Sentence(
                f"{capital(sequence.going(left, entered))}, through steps that are passed at once.", (), facts
            )
        elif left:
            yield Sentence(f"{listed(map(sequence.step, left))} {'is' if len(left) == 1 else 'are'} over.", (), facts)
        elif entered:
            yield from self._standing(entered, facts)

    def _standing(self, entered: tuple[str, ...], facts: tuple[Fact, ...]) -> Iterator[Sentence]:
        """Steps that are active as power comes on: rest, as a rule."""
        sequence = self.sequence
        rest = [name for name in entered if sequence.is_rest(name)]
        if rest:
            yield Sentence(f"{capital(sequence.resting(rest))}.", (), facts)
            facts = ()
        others = [name for name in entered if name not in rest and name not in sequence.shape.memory]
        if others:
            are = "is" if len(others) == 1 else "are"
            yield Sentence(f"{capital(listed(sequence.step(name) for name in others))} {are} under way.", (), facts)

    def _forced(self, entered: tuple[str, ...]) -> str:
        sequence = self.sequence
        rest = [name for name in entered if sequence.is_rest(name)]
        begun = [name for name in entered if name not in rest and name not in sequence.shape.memory]
        if begun:
            return f"everything drops out, and {listed(sequence.step(name) for name in begun)} begins"
        who = listed(dict.fromkeys(sequence.station(name) for name in rest)) or "the sequence"
        return f"{who} {'goes' if len(rest) < 2 else 'go'} straight back to rest"

    def _because(self, instant: Instant, condition: Condition, doing: str) -> str:
        """What was done, with as much of its condition as has not just been told."""
        now = {(change.signal, change.on) for change in instant.inputs}
        rest = [
            part
            for part in parts_of(condition)
            if _looks_at(part) not in now and not self.sequence.goes_without_saying(part)
        ]
        if not rest:
            return f"{capital(doing)}."
        words = self.sequence.condition(rest, instant)
        if any(isinstance(part, Elapsed) for part in rest):
            return f"{capital(words)}: {doing}."
        return f"{capital(doing)}, as {words}."

    # --- one sentence -----------------------------------------------------------------------------------------

    def _lead(self, instant: Instant) -> str:
        """What set a moment going."""
        world = [world_words(what, instant.at_us) for what in instant.world]
        by_hand = [self.input_words(change) for change in instant.inputs if not change.by]
        rods = [lowered(sentence.text.removesuffix(".")) for sentence in arrivals(self.machine, instant)]
        over = [
            f"{change.signal} {coil_verb(change)}" for one in instant.coils for change in one if change.expired
        ] or (["the time is over"] if instant.expired else [])
        return listed([*world, *by_hand, *rods, *over])

    def _coil_phrases(self, instant: Instant) -> Iterator[str]:
        verbs: dict[str, list[str]] = {}
        seals = {seal.device for seal in instant.sealed}
        for change in _lasting(instant):
            holds = " and holds itself in" if change.signal in seals and change.after else ""
            verbs.setdefault(f"{coil_verb(change)}{holds}", []).append(change.signal)
        for verb, names in verbs.items():
            yield f"{listed(names)} {plural(verb, names)}"

    def _output_phrases(self, instant: Instant) -> Iterator[str]:
        for on in (True, False):
            names = [o.signal for o in instant.outputs if o.on is on]
            if names:
                verb = plural("comes on" if on else "goes off", names)
                yield f"{listed(names)} {verb}"


def refused_words(refused: Iterable[Refused]) -> str:
    """Rungs that stay dead, and where they are open."""
    said = {f"{rung_words([r.rung])} is still open at {named_contacts(r.missing)}" for r in refused}
    return listed(sorted(said))


def _strokes(begun: Iterable[Stroke]) -> Iterator[str]:
    """What rods begin to do, those that do the same together where that is one word."""
    doing: dict[str, list[str]] = {}
    for stroke in begun:
        doing.setdefault(stroke_verb(stroke), []).append(stroke.actuator)
    for verb, names in doing.items():
        if len(names) > 1 and " " not in verb:
            yield f"{listed(names)} {verb.removesuffix('s')}"
        else:
            yield from (f"{name} {verb}" for name in names)


def _lasting(instant: Instant) -> Iterator[CoilChange]:
    """The last change of each coil that does not end as it began, but for timers that ran out, which lead."""
    first: dict[str, CoilChange] = {}
    last: dict[str, CoilChange] = {}
    for change in (change for one in instant.coils for change in one):
        first.setdefault(change.signal, change)
        last.pop(change.signal, None)
        last[change.signal] = change
    return (c for name, c in last.items() if c.after != first[name].before and not c.expired)


def _looks_at(condition: Condition) -> tuple[str, bool] | None:
    """The input that a condition looks at, and how it must be."""
    match condition:
        case Signal(device=device) | Rise(device=device):
            return device, True
        case Not(of=Signal(device=device)):
            return device, False
        case _:
            return None


def world_words(what: World, at_us: int) -> str:
    """The supply, a jam, or a switch that does not work."""
    match what.kind:
        case "supply" if at_us == 0:
            return "the control supply is on"
        case "supply":
            return f"the control supply {'is back' if what.on else 'is lost'}"
        case EventKind.JAM:
            return f"{what.signal} {'jams' if what.on else 'is free again'}"
        case EventKind.STUCK_MADE:
            return f"{what.signal} {'sticks, made' if what.on else 'works again'}"
        case _:
            return f"{what.signal} {'sticks, open' if what.on else 'works again'}"
