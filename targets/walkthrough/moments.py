"""One moment of a run in words: every change with its cause, or one sentence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import zip_longest

from compiler.chart import Chart
from compiler.condition import Active, Always, And, Condition, Elapsed, Not, Or, Rise, Signal, both
from compiler.machine import InputKind, Machine
from compiler.shape import shape_of
from compiler.simulation.run import EventKind
from compiler.tell import condition_words
from compiler.walk.changes import CoilChange, Fact, Held, InputChange, Instant, Refused, StepChange, World
from targets.walkthrough.coils import (
    back_to_rest,
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
from targets.walkthrough.told import Sentence
from targets.walkthrough.words import capital, listed, lowered, named_contacts, rung_words

__all__ = ["Teller", "refused_words"]


@dataclass
class Teller:
    """Tells moments of one run, one after another; it remembers what need be said only once."""

    machine: Machine
    chart: Chart
    by_rungs: bool
    pump_told: bool = False

    @cached_property
    def memory(self) -> frozenset[str]:
        """The steps that only remember that something was pressed."""
        return shape_of(self.chart).memory

    def full(self, instant: Instant) -> tuple[Sentence, ...]:
        """Every change of a moment, in order of cause."""
        found = [*self._world(instant), *arrivals(self.machine, instant)]
        found += [sentence for held in instant.held for sentence in self._held(held)]
        loads = [change.terminal for change in instant.outputs if change.terminal is not None]
        fallen: list[str] = []
        for changes, following in zip_longest(instant.coils, instant.coils[1:], fillvalue=()):
            effects = [*(t for change in following for t in change.terminals), *loads]
            found += round_sentences(changes, instant.sealed, effects)
            fallen += fallen_back(changes, effects)
        found += back_to_rest(fallen)
        if instant.steps is not None and not instant.parted:
            found += self._steps(instant, instant.steps)
        found += output_sentences(instant.outputs)
        found += setting_out(self.machine, instant)
        if instant.pump is not None:
            found += pump_sentence(self.machine, instant.pump, first=not self.pump_told)
            self.pump_told = self.pump_told or not instant.pump.wanted
        return tuple(found)

    def phase(self, before: Instant, instant: Instant) -> Iterator[Sentence]:
        """Which steps of the sequence a moment begins, where it is told by rungs and the steps are not."""
        begun = instant.active - before.active - self.memory
        if not self.by_rungs or instant.parted or instant.active == before.active:
            return
        shape = shape_of(self.chart)
        if shape.resting(instant.active) and not shape.resting(before.active):
            yield Sentence("With that the cycle is over.")
            return
        order = [step.name for step in self.chart.steps]
        names = [name for name in sorted(begun, key=order.index) if not any(name in rest for rest in shape.stations)]
        if names:
            yield Sentence(f"This begins {listed(self._step(name) for name in names)}.")

    def short(self, instant: Instant) -> tuple[Sentence, ...]:
        """One sentence where a load, a motor or a rod's stroke changed; none where nothing did."""
        begun = [s for s in instant.strokes if not is_arrival(s)]
        if not (instant.outputs or instant.motors or begun):
            return ()
        effects = [*self._coil_phrases(instant), *self._output_phrases(instant)]
        effects += [f"{m.signal} {motor_verb(m)}" for m in instant.motors]
        effects += [f"{s.actuator} {stroke_verb(s)}" for s in begun]
        lead = self._lead(instant)
        rungs = tuple(sorted({t.rung for one in instant.coils for c in one for t in c.terminals}))
        text = f"{lead}: {listed(effects)}." if lead else f"{listed(effects)}."
        return (Sentence(capital(text), rungs, (*instant.outputs, *instant.motors, *begun)),)

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
        if change.forced and self.chart.forcing is not None:
            doing = f"the chart is forced to {listed(change.entered)}"
            yield Sentence(self._because(instant, self.chart.forcing.condition, doing), (), (change,))
            return
        facts: tuple[Fact, ...] = (change,)
        explained: set[str] = set()
        for t in change.transitions:
            explained.update(t.sources, t.targets)
            yield Sentence(self._because(instant, t.condition, self._going(t.sources, t.targets)), (), facts)
            facts = ()
        left = tuple(name for name in change.left if name not in explained)
        entered = tuple(name for name in change.entered if name not in explained)
        if left and entered:
            yield Sentence(
                f"{capital(self._going(left, entered))}, through steps that are passed at once.", (), facts
            )
        elif left:
            yield Sentence(f"{listed(left)} end{'s' if len(left) == 1 else ''}.", (), facts)
        elif entered:
            names = listed(self._step(name) for name in entered)
            yield Sentence(f"{names} {'is' if len(entered) == 1 else 'are'} active.", (), facts)

    def _going(self, sources: tuple[str, ...], targets: tuple[str, ...]) -> str:
        return f"the chart goes on from {listed(sources)} to {listed(self._step(n) for n in targets)}"

    def _because(self, instant: Instant, condition: Condition, doing: str) -> str:
        """What was done, with as much of its condition as has not just been told."""
        parts = condition.of if isinstance(condition, And) else (condition,)
        now = {(change.signal, change.on) for change in instant.inputs}
        rest = [part for part in parts if _looks_at(part) not in now and not self._goes_without_saying(part)]
        if not rest:
            return f"{capital(doing)}."
        words = condition_words(both(*(_met(part, instant.active) for part in rest)), self.machine)
        if any(isinstance(part, Elapsed) for part in rest):
            return f"{capital(words)}: {doing}."
        return f"{capital(doing)}, as {words}."

    def _goes_without_saying(self, part: Condition) -> bool:
        """Whether a part of a condition is always so, or only says that no press is remembered."""
        match part:
            case Always():
                return True
            case Not(of=Active(step=step)):
                return step in self.memory
            case _:
                return False

    def _step(self, name: str) -> str:
        step = self.chart.step(name)
        words = " ".join((step.fault or step.words.text).split()).split(", within ")[0]
        return f"{name}, “{words}”" if words else name

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


def _lasting(instant: Instant) -> Iterator[CoilChange]:
    """The last change of each coil that does not end as it began, but for timers that ran out, which lead."""
    first: dict[str, CoilChange] = {}
    last: dict[str, CoilChange] = {}
    for change in (change for one in instant.coils for change in one):
        first.setdefault(change.signal, change)
        last.pop(change.signal, None)
        last[change.signal] = change
    return (c for name, c in last.items() if c.after != first[name].before and not c.expired)


def _met(part: Condition, active: frozenset[str]) -> Condition:
    """Of several steps any of which would do, the one that is active."""
    if isinstance(part, Or):
        there = [one for one in part.of if isinstance(one, Active) and one.step in active]
        if len(there) == 1 and all(isinstance(one, Active) for one in part.of):
            return there[0]
    return part


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
