"""Relays that watch a line of steps for what goes wrong: one for each fault, in until STOP.

    F := (in its step, what goes wrong there, or F), STOP NC

What drops out with F, and which timers run in which step, is the business of each arrangement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from compiler.chart import Step, Words
from compiler.condition import And, Condition, Elapsed, Not, walk
from grammar.rungs.tree import Network, TimerFunction
from targets.relay.chain import Chain, Link, on_in
from targets.relay.network import complement, contact, nc, parallel, series
from targets.relay.sheet import Sheet, tidy

__all__ = ["Watch", "goes_wrong", "name_timers", "watch"]


@dataclass(frozen=True, slots=True)
class Watch:
    """The fault steps of a chain and the relay of each."""

    relays: tuple[tuple[Step, str], ...]

    @property
    def well(self) -> Network:
        """Conducts while there is no fault."""
        return series(*(nc(relay) for _, relay in self.relays))

    def shown(self, output: str) -> tuple[Network, ...]:
        """The contacts of the faults that turn an output on."""
        return tuple(contact(relay) for step, relay in self.relays if output in on_in(step))

    def draw(
        self, sheet: Sheet, chain: Chain, *, here: Sequence[Network], ends: Sequence[Network], runs: Network
    ) -> None:
        """The rungs. For each link of the chain ``here`` conducts while its step is on, and ``ends`` are the contacts
        that end it; ``runs`` conducts while STOP is up."""
        for step, relay in self.relays:
            branches = [
                series(now, goes_wrong(sheet, exit_.condition, link, end))
                for link, now, end in zip(chain.links, here, ends, strict=True)
                for exit_ in link.faults
                if exit_.step.name == step.name
            ]
            net = series(parallel(*branches, contact(relay)), runs)
            says = f"{relay}: fault '{tidy(step.fault)}'. It drops out the cycle and stays in until STOP."
            sheet.rung(net, relay, says=says, words=step.words)

    def told(self, output: str) -> list[str]:
        """In words, the faults that turn an output on, if any do."""
        shown = [relay for step, relay in self.relays if output in on_in(step)]
        return [f"any fault ({', '.join(shown)})" if len(shown) > 1 else f"fault {shown[0]}"] if shown else []

    def words(self, output: str) -> Words | None:
        """The words of the first fault that turns an output on."""
        return next((step.words for step, _ in self.relays if output in on_in(step)), None)


def watch(sheet: Sheet, chain: Chain) -> Watch:
    """A relay for each fault step of a chain."""
    steps = {exit_.step.name: exit_.step for link in chain.links for exit_ in link.faults}
    return Watch(tuple((step, sheet.relay("FR")) for step in steps.values()))


def name_timers(sheet: Sheet, link: Link) -> tuple[str, ...]:
    """A timer for each time in its step that a link's end or its faults ask for; those that are new."""
    found = []
    for condition in (link.ends, *(exit_.condition for exit_ in link.faults)):
        for part in walk(condition):
            if isinstance(part, Elapsed) and part.step == link.step.name and part not in sheet.elapsed:
                sheet.elapsed[part] = sheet.timer(TimerFunction.ON_DELAY, part.time_us)
                found.append(sheet.elapsed[part])
    return tuple(found)


def goes_wrong(sheet: Sheet, condition: Condition, link: Link, ends: Network) -> Network:
    """A fault's condition; in it ``not what ends the step`` is the opposite of the very network that ends it."""
    match condition:
        case Not(of=of) if of == link.ends:
            return complement(ends)
        case And(of=parts):
            return series(*(goes_wrong(sheet, part, link, ends) for part in parts))
        case _:
            return sheet.conducts(condition)
