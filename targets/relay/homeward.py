"""The way home after STOP in relays: one relay a step of it, beside the arrangement that moves the cycle.

    AR := STOP NC or AR, QR NC or HR1 NC and not yet home        STOP has been seen up: its next press counts
    QR := STOP, AR                                               the press, until the way home has begun
    HR1 := QR or HR1, not yet home, HR2 NC .. HRn NC
    HRk := (HR(k-1) and its switches) or HRk, QR NC, what is left of the way not done, HR(k+1) NC

Each step has a relay, and not one relay for all with the switches in series: a memory valve sends its cylinder
on to the end after STOP, so a switch that was made as its turn came may open again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from compiler.chart import Words
from grammar.rungs.tree import Network
from targets.relay.chain import Chain, on_in
from targets.relay.moves import Act
from targets.relay.network import WIRE, complement, contact, nc, parallel, series
from targets.relay.sheet import Sheet, tidy

__all__ = ["NOWHERE", "Homeward", "homeward"]


@dataclass(frozen=True, slots=True)
class Homeward:
    """The way home. ``stopped`` conducts while STOP is down; ``seen`` and ``press`` are the relays that saw it up
    and that tell of its press; there is one relay and one act a step of the way, and what ends each."""

    stopped: Network
    seen: str
    press: str
    relays: tuple[str, ...]
    acts: tuple[Act, ...]
    ends: tuple[Network, ...]
    words: Words

    @property
    def over(self) -> Network:
        """Conducts while no step of the way is on."""
        return series(*map(nc, self.relays))

    def lit(self, output: str) -> tuple[str, ...]:
        """The relays of the steps in which an output is on."""
        return tuple(
            relay for relay, act in zip(self.relays, self.acts, strict=True) if output in on_in(act.link.step)
        )

    def told(self) -> str:
        """What each relay of the way does, in a few words."""
        return ", ".join(
            f"{relay} {' '.join(map(str, act.moves))}" for relay, act in zip(self.relays, self.acts, strict=True)
        )

    def draw(self, sheet: Sheet) -> None:
        """The rungs of the way."""
        if not self.relays:
            return
        left = [complement(series(*self.ends[k:])) for k in range(len(self.ends))]
        seen = series(
            parallel(complement(self.stopped), contact(self.seen)),
            parallel(nc(self.press), series(nc(self.relays[0]), left[0])),
        )
        says = f"{self.seen}: STOP has been seen up, so its next press counts; over once the way home has begun."
        sheet.rung(seen, self.seen, says=says, words=self.words)
        says = f"{self.press}: a press of STOP. It brings in {self.relays[0]}, unless everything is home."
        sheet.rung(series(self.stopped, contact(self.seen)), self.press, says=says, words=self.words)
        for k, (relay, act) in enumerate(zip(self.relays, self.acts, strict=True)):
            first = k == 0
            picks_up = contact(self.press) if first else series(contact(self.relays[k - 1]), self.ends[k - 1])
            drops = self.relays[1:] if first else self.relays[k + 1 : k + 2]
            network = series(
                parallel(picks_up, contact(relay)),
                WIRE if first else nc(self.press),
                left[k],
                *map(nc, drops),
            )
            how = f"{self.press} picks it up" if first else f"It follows {self.relays[k - 1]}"
            step = act.link.step.words
            quoted = f" ({tidy(step.text)})" if step.text else ""
            moves = " ".join(map(str, act.moves))
            says = f"{relay}: {moves} on the way home{quoted}. {how}, and its own contact seals it in."
            sheet.rung(network, relay, says=says, words=step)


NOWHERE = Homeward(WIRE, "", "", (), (), (), Words())
"""Where STOP leads nowhere."""


def homeward(sheet: Sheet, chain: Chain, acts: Sequence[Act]) -> Homeward:
    """The way home of a chain, by its acts, with a relay for each."""
    if chain.stop is None or not acts:
        return NOWHERE
    seen, press = sheet.relay("AR"), sheet.relay("QR")
    ends = tuple(series(*map(contact, act.switches)) for act in acts)
    relays = tuple(sheet.relay("HR") for _ in acts)
    return Homeward(sheet.conducts(chain.stop), seen, press, relays, tuple(acts), ends, chain.stop_words)
