"""What a dwell circuit works besides its cylinder: loads that are on in some phases of the cycle, and time limits.

    out, hold        by contacts the circuit has anyway, ``Told`` by each arrangement
    cycle            CR := (solenoid on, or CR and the end of the way home NC), STOP NC, F.. NC
    way home         the cycle relay in and the solenoid not on
    time limit       TR on-delay := its phase,      F := (its phase, TR NOTC, the switch NC, or F), STOP NC

A cylinder that comes home by its spring needs no contact for that, so nothing in a plain dwell circuit tells that it
is on its way. A relay for that is there only where something asks for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from compiler.condition import And, Not, Or, Signal, walk
from compiler.machine import Load
from grammar.rungs.tree import Network
from targets.relay.chain import Chain, Link, on_in
from targets.relay.dwell import Dwell
from targets.relay.network import WIRE, Unfit, complement, contact, parallel, series
from targets.relay.sheet import Sheet
from targets.relay.watching import Watch, name_timers

__all__ = ["Told", "draw_besides"]


class _Phase(Enum):
    OUT = auto()
    HOLD = auto()
    BACK = auto()


_IN_WORDS = {_Phase.OUT: "the stroke out", _Phase.HOLD: "the hold", _Phase.BACK: "the stroke back"}

_CHANGE_OVER = (
    "A fault's contact holds it in before another drops the cycle out: contacts must change over in less time than a "
    "relay takes to drop out, as they commonly do."
)


@dataclass(frozen=True, slots=True)
class Told:
    """What conducts while the solenoid is ``on``, while the cylinder goes ``out``, and while it is ``held``; the last
    two are None where the circuit can't tell them apart."""

    on: Network
    out: Network | None
    held: Network | None


@dataclass(frozen=True, slots=True)
class _Phases:
    """The links of a chain by phase; ``cycle`` conducts in all of them, where something asks for that."""

    links: tuple[tuple[_Phase, Link], ...]
    told: Told
    cycle: Network

    def network(self, wanted: frozenset[_Phase], who: str) -> Network:
        """Conducts in these phases and no others. Raises Unfit, for the sake of ``who``, where no contacts do."""
        if _Phase.BACK not in wanted:
            return self._on(wanted, who)
        missing = frozenset(phase for phase, _ in self.links) - wanted
        return series(self.cycle, complement(self._on(missing, who)) if missing else WIRE)

    def _on(self, wanted: frozenset[_Phase], who: str) -> Network:
        if wanted == {phase for phase, _ in self.links} - {_Phase.BACK}:
            return self.told.on
        found = self.told.out if wanted == {_Phase.OUT} else self.told.held
        if found is None:
            raise Unfit(f"no contact tells the stroke out from the hold, and {who} must not be on in both")
        return found


def draw_besides(
    sheet: Sheet, chain: Chain, cycle: Dwell, told: Told, faults: Watch, *, runs: Network, well: Network = WIRE
) -> str:
    """The rungs for all but the solenoid, and what is to be said of them in the notes. Raises Unfit.

    ``runs`` conducts while STOP is up. ``well`` is what a load needs besides, where a fault ends the cycle only and
    not the stroke or the hold.
    """
    links = tuple((p, link) for p, link in zip(_Phase, (cycle.out, cycle.held, cycle.back), strict=True) if link)
    others = [load for load in sheet.machine.loads if load.name != cycle.solenoid]
    lit = {load: frozenset(p for p, link in links if load.name in on_in(link.step)) for load in others}
    askers = [load.name for load in others if _Phase.BACK in lit[load]]
    askers += [f"fault '{exit_.step.fault}'" for exit_ in (cycle.back.faults if cycle.back else ())]
    relay = _cycle_relay(sheet, cycle, askers, told, series(runs, faults.well)) if askers else ""
    phases = _Phases(links, told, contact(relay) if relay else WIRE)
    _draw_faults(sheet, chain, phases, faults, runs)
    for load in others:
        _draw_load(sheet, load, lit[load], phases, faults, well)
    home = f" {relay} is in until the cylinder is home again." if relay else ""
    return f"{home} {_CHANGE_OVER}" if faults.relays else home


def _cycle_relay(sheet: Sheet, cycle: Dwell, askers: list[str], told: Told, runs: Network) -> str:
    """A relay that is in for the whole cycle. Raises Unfit where the way home ends otherwise than at contacts."""
    back = cycle.back
    if back is None or not all(isinstance(part, Signal | Not | And | Or) for part in walk(back.ends)):
        raise Unfit(f"no contact tells when the way home is over, and {', '.join(askers)} depends on that")
    over = sheet.conducts(back.ends)
    relay = sheet.relay()
    says = (
        f"{relay} is in for the whole cycle: it comes in with the stroke out, and its own contact keeps it in on the "
        f"way home."
    )
    net = series(parallel(told.on, series(contact(relay), complement(over))), runs)
    sheet.rung(net, relay, says=says, words=back.step.words)
    return relay


def _draw_faults(sheet: Sheet, chain: Chain, phases: _Phases, faults: Watch, runs: Network) -> None:
    here: list[Network] = []
    ends: list[Network] = []
    for phase, link in phases.links:
        watched = bool(link.faults)
        now = phases.network(frozenset({phase}), f"fault '{link.faults[0].step.fault}'") if watched else WIRE
        here.append(now)
        for timer in name_timers(sheet, link) if watched else ():
            sheet.rung(now, timer, says=f"{timer} times {_IN_WORDS[phase]}.", words=link.step.words)
        ends.append(sheet.conducts(link.ends) if watched else WIRE)
    faults.draw(sheet, chain, here=here, ends=ends, runs=runs)


def _draw_load(
    sheet: Sheet, load: Load, lit: frozenset[_Phase], phases: _Phases, faults: Watch, well: Network
) -> None:
    shown = faults.shown(load.name)
    if not lit and not shown:
        return
    nets = [series(phases.network(lit, load.name), WIRE if _Phase.BACK in lit else well)] if lit else []
    where = [_IN_WORDS[phase] for phase, _ in phases.links if phase in lit]
    if len(where) == len(phases.links):
        where = ["the whole cycle"]
    where += faults.told(load.name)
    words = next((link.step.words for phase, link in phases.links if phase in lit), faults.words(load.name))
    sheet.rung(parallel(*nets, *shown), load.name, says=f"{load.name}: on during {' and '.join(where)}.", words=words)
