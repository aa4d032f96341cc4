"""Cascade groups for memory valves: one relay a group of moves; in a group each limit switch starts the next move.

    G1 := (start, G3 NC .. Gn NC, or G1), STOP NC, F.. NC, G2 NC
    Gk := (G(k-1) and the last switch of group k-1, or Gk), STOP NC, F.. NC, G(k+1) NC
    Gn := (G(n-1) and its last switch, or Gn), STOP NC, F.. NC, last switch of group n NC
    solenoid := Gk, the switch of the move before, its own switch NC, NC of the groups that send it the other way
    TRn on-delay := Gk, the switch of the move before        a hold; its NOTC contact stands for the switch

The first move of a group is fed straight from the group's relay, and the last one needs no contact of its own switch:
the next group drops this one out. Groups are cut by the rule in ``groups``, counted in a line from START, since the
cycle rests before its first move; and after a wait for what may pass again, which only the next relay remembers.

One relay a group, of which one at a time is in and at rest none. Two groups can share one relay (in: I, out: II), and
more can do with one relay less, but then the last group is on at rest and after STOP, with its solenoids live; the
sequence has them off. The relay that comes in is sealed by its own contact before it drops out the one before.

A memory valve sends its cylinder on to the end after STOP, wherever that leaves it. So a switch alone tells that a
move is over only where its cylinder has moved before in this cycle, and was seen at its other end; at a cylinder's
first move the switches of the moves before it in the group stand in series with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count

from compiler.machine import Machine
from compiler.spoken import spans
from grammar.rungs.tree import Network
from grammar.rungs.write import write_network
from targets.relay.arrangement import Built
from targets.relay.chain import Chain, on_in, sustained_words
from targets.relay.groups import Group, in_line, overlap, roman, round_the_cycle, told
from targets.relay.homeward import Homeward, homeward
from targets.relay.moves import Act, acts, by_solenoid, home_acts, opposite, starts_at_home
from targets.relay.network import WIRE, complement, contact, nc, parallel, series
from targets.relay.sheet import Sheet, tidy
from targets.relay.start import StartBranch, runs, start_branch, switches_work
from targets.relay.watching import Watch, name_timers, watch
from targets.target import Assumption

__all__ = ["build"]


@dataclass(frozen=True, slots=True)
class _Stage:
    """An act, the contacts that tell that it is over, the timer of its hold and its other timers.

    ``sure``: its own contacts tell that the stages before it in the group are over as well. (A hold's do, for its
    timer is fed through theirs.)
    """

    act: Act
    ends: Network
    hold: str
    watching: tuple[str, ...]
    sure: bool

    def lights(self, output: str) -> bool:
        return output in on_in(self.act.link.step)


@dataclass(frozen=True, slots=True)
class _Group:
    """A group: its number from 1, its relay and its stages."""

    number: int
    relay: str
    stages: tuple[_Stage, ...]

    def __str__(self) -> str:
        return f"group {roman(self.number)}, {told([[stage.act.moves for stage in self.stages]])}"

    @property
    def over(self) -> Network:
        """Contacts that tell, while the group is on, that all its stages are over."""
        return self._over(0, len(self.stages) - 1)

    def begun(self, stage: int) -> Network:
        """The group is on and the stages before this one are over."""
        return series(contact(self.relay), self._over(0, stage - 1))

    def during(self, first: int, last: int) -> Network:
        """From the beginning of one stage to the end of another; the end of the group needs no contact."""
        if last + 1 == len(self.stages):
            return self.begun(first)
        return series(self.begun(first), complement(self._over(first, last)))

    def _over(self, first: int, last: int) -> Network:
        """Contacts that tell, once the stages before ``first`` are over, that those up to ``last`` are."""
        sure = [k for k in range(first, last + 1) if self.stages[k].sure]
        return series(*(stage.ends for stage in self.stages[max(sure, default=first) : last + 1]))

    def stretches(self, output: str) -> list[tuple[int, int]]:
        """The stretches of stages in which an output is on: the first and the last of each."""
        lit = [stage.lights(output) for stage in self.stages]
        firsts = [k for k, on in enumerate(lit) if on and not (k and lit[k - 1])]
        lasts = [k for k, on in enumerate(lit) if on and not any(lit[k + 1 : k + 2])]
        return list(zip(firsts, lasts, strict=True))


@dataclass(frozen=True, slots=True)
class _Circuit:
    sheet: Sheet
    chain: Chain
    groups: tuple[_Group, ...]
    watch: Watch
    run: Network
    home: Homeward


def build(machine: Machine, chain: Chain, *, anti_repeat: bool) -> Built:
    """The circuit. Raises Unfit with the reason where it does not fit."""
    found = acts(chain, machine)
    sheet = Sheet(machine, sustained_words=sustained_words(chain))
    home = homeward(sheet, chain, home_acts(chain, machine))
    groups = _groups(sheet, found)
    faults = watch(sheet, chain)
    sheet.outputs.update(_outputs(machine, groups, faults, home))
    start = start_branch(sheet, chain.trigger, words=chain.trigger_words, anti_repeat=anti_repeat)
    circuit = _Circuit(sheet, chain, groups, faults, runs(sheet, chain.stop), home)
    home.draw(sheet)
    _draw_groups(circuit, start)
    _draw_timers(circuit)
    stages = [stage for group in groups for stage in group.stages]
    here = [group.during(k, k) for group in groups for k in range(len(group.stages))]
    faults.draw(sheet, chain, here=here, ends=[stage.ends for stage in stages], runs=circuit.run)
    _draw_outputs(circuit)
    idle = series(home.over, *(nc(group.relay) for group in groups))
    start.draw(sheet, idle=idle, runs=circuit.run, words=chain.trigger_words)
    announces = start.announces | switches_work(machine)
    if not starts_at_home(chain.trigger, found):
        announces |= {Assumption.START_AT_HOME}
    return Built(sheet, _how(circuit, found), announces)


def _groups(sheet: Sheet, found: Sequence[Act]) -> tuple[_Group, ...]:
    """The acts cut into groups, with a relay for each and a timer for each hold."""
    parts = _cut(found)
    relays = [sheet.relay() for _ in parts]
    seen: set[str] = set()  # the cylinders that have been seen at an end in this cycle
    stages: list[_Stage] = []
    for act in found:
        timers = name_timers(sheet, act.link)
        hold, others = (timers[0], timers[1:]) if act.hold else ("", timers)
        ends = series(*map(contact, act.switches)) if act.moves else sheet.conducts(act.link.ends)
        letters = {move.letter for move in act.moves}
        stages.append(_Stage(act, ends, hold, others, sure=act.hold or bool(letters & seen)))
        seen |= letters
    rest = iter(stages)
    return tuple(
        _Group(number, relay, tuple(next(rest) for _ in part))
        for number, relay, part in zip(count(1), relays, parts, strict=False)
    )


def _cut(found: Sequence[Act]) -> list[Group]:
    """The groups. A wait ends its own besides: the next one remembers that what was waited for has been so."""
    parts: list[Group] = []
    rest = list(found)
    while rest:
        upto = next((k for k, act in enumerate(rest, start=1) if act.waits), len(rest))
        parts += in_line([act.moves for act in rest[:upto]])
        del rest[:upto]
    return parts


def _how(circuit: _Circuit, found: Sequence[Act]) -> str:
    moves = [act.moves for act in found]
    parts, fewest = _cut(found), len(round_the_cycle(moves))
    first, last = circuit.groups[0].relay, circuit.groups[-1].relay
    fewer = "no fewer" if fewest == len(in_line(moves)) else f"{fewest}"
    waits = any(act.waits for act in found)
    text = (
        f"Groups: {told(parts)}. That is {len(parts)}, cut in a line from the first move"
        f"{' and after each wait' if waits else ''}; round the cycle {fewer} would do"
        f"{' but for the waits' if waits else ''}. One relay a group, {first} to {last}: each comes in when the "
        "group before is over and drops that one out; at rest all are out. A solenoid is live for its own move only, "
        "and never together with the other one of its valve."
    )
    blocked = ", ".join(map(str, overlap(moves))) or "no move"
    text += f" Wired straight from switch to solenoid, {blocked} would be blocked by the opposite command."
    if len(parts) == 2:
        text += " (The two could share one relay, but then the solenoids of group II would be live at rest.)"
    if circuit.chain.stop is None:
        return text
    if circuit.home.relays:
        return (
            f"{text} A press of STOP drops out every group and leads home, one relay a step ({circuit.home.told()}), "
            "for a memory valve sends its cylinder on to the end. The next start begins with the first move."
        )
    return (
        f"{text} STOP drops out every group. A memory valve stays where it was put, so a stroke under way goes on to "
        "its end. The next start begins with the first move."
    )


def _outputs(machine: Machine, groups: tuple[_Group, ...], faults: Watch, home: Homeward) -> dict[str, Network]:
    """For each output that is ever on: one branch a stretch of stages in a group, a fault or a step of the way home;
    for a solenoid, the NC contacts of the relays with which the other solenoid of its valve is commanded."""
    found: dict[str, Network] = {}
    for load in machine.loads:
        branches = [group.during(*stretch) for group in groups for stretch in group.stretches(load.name)]
        branches += [*faults.shown(load.name), *map(contact, home.lit(load.name))]
        if branches:
            against = (
                *(group.relay for group in _against(machine, groups, load.name)),
                *_home_against(machine, home, load.name),
            )
            found[load.name] = series(parallel(*branches), *map(nc, against))
    return found


def _against(machine: Machine, groups: tuple[_Group, ...], solenoid: str) -> list[_Group]:
    """The groups in which the other solenoid of a valve is commanded; none for what is no solenoid of a valve."""
    other = opposite(machine, solenoid) or ""
    return [group for group in groups if group.stretches(other)]


def _home_against(machine: Machine, home: Homeward, solenoid: str) -> tuple[str, ...]:
    """The relays of the way home with which the other solenoid of a valve is commanded."""
    return home.lit(opposite(machine, solenoid) or "")


def _draw_groups(circuit: _Circuit, start: StartBranch) -> None:
    groups, sheet = circuit.groups, circuit.sheet
    for before, group, following in zip((None, *groups), groups, (*groups[1:], None), strict=False):
        if before is None:
            picks_up = series(start.network, *(nc(other.relay) for other in groups[2:]), circuit.home.over)
            how = f"{start.called} picks it up while no other group is in"
            words = circuit.chain.trigger_words
        else:
            picks_up = series(contact(before.relay), before.over)
            over = f" ({write_network(before.over)})" if before.over != WIRE else ""
            how = f"{before.relay} picks it up when group {roman(before.number)} is over{over}"
            words = before.stages[-1].act.link.ends_words
        dropped = f"{following.relay} drops it out" if following else "it drops out when the group is over"
        drops = nc(following.relay) if following else complement(group.over)
        sheet.rung(
            series(parallel(picks_up, contact(group.relay)), circuit.run, circuit.watch.well, drops),
            group.relay,
            says=f"{group.relay}: {group}. {how}, and its own contact seals it in; {dropped}.",
            words=words,
        )


def _draw_timers(circuit: _Circuit) -> None:
    for group in circuit.groups:
        for k, stage in enumerate(group.stages):
            words = stage.act.link.step.words
            quoted = f" ({tidy(words.text)})" if words.text else ""
            if stage.hold:
                says = f"{stage.hold} times the hold in group {roman(group.number)}{quoted}."
                circuit.sheet.rung(group.begun(k), stage.hold, says=says, words=words)
            for timer in stage.watching:
                says = f"{timer}: a time in group {roman(group.number)}{quoted}."
                circuit.sheet.rung(group.during(k, k), timer, says=says, words=words)


def _draw_outputs(circuit: _Circuit) -> None:
    machine, home = circuit.sheet.machine, circuit.home
    moved = by_solenoid(machine)
    for name, network in circuit.sheet.outputs.items():
        lit = [group for group in circuit.groups if group.stretches(name)]
        where = " and ".join(
            [
                *([_during(lit, name, moved=name in moved)] if lit else []),
                *_homeward(home.lit(name)),
                *(f"on {t}" for t in circuit.watch.told(name)),
            ]
        )
        says = f"{name}: on {where}."
        if name in moved:
            move = moved[name][1]
            against = _against(machine, circuit.groups, name)
            never = " and ".join(
                [
                    *([f"in {_numbered(against)}"] if against else []),
                    *_homeward(_home_against(machine, home, name)),
                ]
            )
            says = f"{name}: {move} {where}; never {never}, where {move.opposite} is commanded."
        links = [stage.act.link for group in lit for stage in group.stages if stage.lights(name)]
        words = links[0].step.words if links else circuit.watch.words(name)
        circuit.sheet.rung(network, name, says=says, words=words)


def _during(groups: Sequence[_Group], output: str, *, moved: bool) -> str:
    """Where a cycle has an output on: a solenoid in its group, anything else in steps that may be part of one."""
    if moved:
        return f"in {_numbered(groups)}"
    steps = [stage.act.link.step.name for group in groups for stage in group.stages if stage.lights(output)]
    return f"in step{'s' * (len(steps) > 1)} {spans(steps)} ({_numbered(groups)})"


def _homeward(relays: Sequence[str]) -> list[str]:
    return [f"on the way home ({', '.join(relays)})"] if relays else []


def _numbered(groups: Sequence[_Group]) -> str:
    return f"group{'s' * (len(groups) > 1)} {', '.join(roman(group.number) for group in groups)}"
