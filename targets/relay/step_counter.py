"""The step counter: a latching relay a step, set by the one before it with its switch, and resetting that one.

    RUN := (start, KR1 NC .. KRm NC, or RUN), STOP NC, F.. NC, (KRm NC or not what ends step m)
    KRn unlatch := KR(n+1) or RUN NC
    behind RUN:
        KR1 latch := KR2 NC .. KRm NC
        KRn latch := KR(n-1), KR(n-2) NC, what ends step n-1
        TRn on-delay := KRn        a time in step n
        output := one contact of KRn for each step in which it is on, NC of those of the other solenoid of its valve

Counters of this kind are told of with one memory a step, at least three of them, and no rest: the last step sets the
first, and of two the one being set would reset the one that sets it (common practice). Here the rest between two
cycles, with every relay unlatched, parts the last step from the first, so that two steps and even one will do.

A step that is over as soon as it begins hands on only once the step before it is unlatched: were it quicker, it would
take away the contact that is to unlatch that one.

What sets it apart from a step chain of sealed-in relays, which goes through the same steps: a latching relay needs no
contact of its own to stay, so its coils are live only to change over, and one step hands on to the next however quick
or slow either relay is. It also keeps its place over a loss of supply, where the sequence as written begins anew. So
RUN, which drops out with the supply, stands in front of every output, unlatches all steps by its NC contact, and
picks up again only when all are found unlatched: the supply coming back moves nothing and the next start begins with
the first step, whatever the relays remember.
"""

from __future__ import annotations

from dataclasses import dataclass

from compiler.condition import Rise, walk
from compiler.machine import Machine
from compiler.spoken import spans
from compiler.tell import condition_words
from grammar.rungs.tree import Comments, Kind, Master, Network, Terminal
from targets.relay.arrangement import Built
from targets.relay.board import told_of
from targets.relay.chain import Chain, Link, on_in, sustained_words
from targets.relay.moves import opposite
from targets.relay.network import WIRE, Unfit, complement, contact, nc, parallel, series
from targets.relay.sheet import Sheet
from targets.relay.start import StartBranch, runs, start_branch, takes_time
from targets.relay.watching import Watch, name_timers, watch
from targets.target import Assumption

__all__ = ["build"]


@dataclass(frozen=True, slots=True)
class _Step:
    """A step, its latching relay, the contacts that tell that it is over, and the timers of what it waits for."""

    link: Link
    relay: str
    ends: Network
    timers: tuple[str, ...]
    when: str

    def __str__(self) -> str:
        return told_of(self.link.step)

    @property
    def on(self) -> str:
        """How it ends, to be put after what follows."""
        return f"when {self.when}" if self.ends != WIRE else "at once"


@dataclass(frozen=True, slots=True)
class _Circuit:
    sheet: Sheet
    chain: Chain
    run: str
    steps: tuple[_Step, ...]
    watch: Watch
    stop_up: Network

    @property
    def behind(self) -> tuple[Master, ...]:
        """The rail that is live for the length of a cycle."""
        return (Master(contact(self.run), Comments((f"Behind {self.run}: live while the cycle runs.",))),)


def build(machine: Machine, chain: Chain, *, anti_repeat: bool) -> Built:
    """The circuit. Raises Unfit with the reason where it does not fit."""
    _fits(chain, machine)
    sheet = Sheet(machine, sustained_words=sustained_words(chain))
    run = sheet.relay()
    relays = [sheet.relay("KR", kind=Kind.LATCHING_RELAY) for _ in chain.links]
    faults = watch(sheet, chain)
    timers = [name_timers(sheet, link) for link in chain.links]
    outputs = _outputs(machine, chain, relays)
    sheet.outputs.update(
        {
            name: parallel(*([series(contact(run), outputs[name])] if name in outputs else []), *faults.shown(name))
            for name in (load.name for load in machine.loads)
            if name in outputs or faults.shown(name)
        }
    )
    start = start_branch(sheet, chain.trigger, words=chain.trigger_words, anti_repeat=anti_repeat)
    steps = tuple(
        _Step(link, relay, sheet.conducts(link.ends), own, condition_words(link.ends, machine))
        for link, relay, own in zip(chain.links, relays, timers, strict=True)
    )
    circuit = _Circuit(sheet, chain, run, steps, faults, runs(sheet, chain.stop))
    _draw_run(circuit, start)
    start.draw(sheet, idle=nc(run), runs=circuit.stop_up, words=chain.trigger_words)
    here = [series(contact(run), contact(relay)) for relay in relays]
    faults.draw(sheet, chain, here=here, ends=[step.ends for step in steps], runs=circuit.stop_up)
    _draw_unlatching(circuit)
    _draw_latching(circuit)
    _draw_timers(circuit)
    _draw_outputs(circuit, outputs)
    announces = start.announces
    if announces and not any(takes_time(link.ends) for link in chain.links):
        # With switches stuck a cycle may be over in no time, and START is then still down.
        announces |= {Assumption.START_AT_HOME}
    return Built(sheet, _how(circuit), announces)


def _how(circuit: _Circuit) -> str:
    run, first, last = circuit.run, circuit.steps[0].relay, circuit.steps[-1].relay
    return (
        f"One latching relay a step, {first} to {last}: each is latched by the one before and unlatches that one, so "
        f"a coil is live only to change over. {run} is in for the length of a cycle; while it is out, every step is "
        f"unlatched. Latching relays keep their places over a loss of supply, but {run} does not: when the supply "
        "comes back nothing moves, every step is unlatched, and the next start begins with the first."
    )


def _fits(chain: Chain, machine: Machine) -> None:
    if chain.rest is not None or on_in(chain.initial):
        raise Unfit("something stays on while the machine rests")
    if any(isinstance(part, Rise) for link in chain.links for part in walk(link.ends)):
        raise Unfit("a step ends at the moment of a press, which a step counter can't tell")
    steps = [step for link in chain.links for step in (link.step, *(exit_.step for exit_ in link.faults))]
    missing = {output for step in steps for output in on_in(step)} - {load.name for load in machine.loads}
    if missing:
        raise Unfit(f"the machine has no {', '.join(sorted(missing))}")


def _outputs(machine: Machine, chain: Chain, relays: list[str]) -> dict[str, Network]:
    """For each output that is ever on, its contacts behind the rail of the cycle. A solenoid has NC contacts of the
    steps that command the other one of its valve: as two steps change over, both are on for a moment."""
    lit = {
        load.name: [relay for relay, link in zip(relays, chain.links, strict=True) if load.name in on_in(link.step)]
        for load in machine.loads
    }
    return {
        name: series(
            parallel(*map(contact, of)) if len(of) < len(relays) else WIRE,
            *map(nc, lit.get(opposite(machine, name) or "", ())),
        )
        for name, of in lit.items()
        if of
    }


def _draw_run(circuit: _Circuit, start: StartBranch) -> None:
    sheet, run, last = circuit.sheet, circuit.run, circuit.steps[-1]
    unlatched = (nc(step.relay) for step in circuit.steps)
    says = (
        f"{run}: the cycle runs. {start.called} picks it up while every step is unlatched, and its own contact "
        f"seals it in; it drops out when {last} is over, {last.on}"
    )
    faults = ", ".join(relay for _, relay in circuit.watch.relays)
    says += f", or on a fault ({faults})." if faults else "."
    net = series(
        parallel(series(start.network, *unlatched), contact(run)),
        circuit.stop_up,
        circuit.watch.well,
        parallel(nc(last.relay), complement(last.ends)) if last.ends != WIRE else nc(last.relay),
    )
    sheet.rung(net, run, says=says, words=circuit.chain.trigger_words)


def _draw_unlatching(circuit: _Circuit) -> None:
    for step, following in zip(circuit.steps, (*circuit.steps[1:], None), strict=True):
        net = parallel(contact(following.relay), nc(circuit.run)) if following else nc(circuit.run)
        by = f"as {following.relay} comes in, and " if following else ""
        says = f"{step.relay} is unlatched {by}while {circuit.run} is out."
        circuit.sheet.rung(net, step.relay, says=says, words=step.link.step.words, terminal=Terminal.UNLATCH)


def _draw_latching(circuit: _Circuit) -> None:
    steps = circuit.steps
    for earlier, before, step in zip((None, None, *steps), (None, *steps), steps, strict=False):
        if before is None:
            net = series(*(nc(other.relay) for other in steps[1:]))
            how = f"It is latched as {circuit.run} picks up, no other step being on"
        else:
            alone = nc(earlier.relay) if earlier is not None else WIRE
            net = series(contact(before.relay), alone, before.ends)
            how = f"It is latched after {before.relay} {before.on}"
        says = f"{step.relay}: {step}. {how}."
        circuit.sheet.rung(
            net, step.relay, says=says, words=step.link.step.words, terminal=Terminal.LATCH, masters=circuit.behind
        )


def _draw_timers(circuit: _Circuit) -> None:
    for step in circuit.steps:
        for timer in step.timers:
            says, words = f"{timer} times {step}.", step.link.step.words
            circuit.sheet.rung(contact(step.relay), timer, says=says, words=words, masters=circuit.behind)


def _draw_outputs(circuit: _Circuit, outputs: dict[str, Network]) -> None:
    """Behind the rail of the cycle, but for what a fault turns on."""
    sheet = circuit.sheet
    for shown in (False, True):
        for name, network in sheet.outputs.items():
            if bool(circuit.watch.shown(name)) is not shown:
                continue
            lit = [step for step in circuit.steps if name in on_in(step.link.step)]
            places = [f"step{'s' * (len(lit) > 1)} {spans([step.link.step.name for step in lit])}"] if lit else []
            says = f"{name}: on in {' and '.join([*places, *circuit.watch.told(name)])}."
            words = lit[0].link.step.words if lit else circuit.watch.words(name)
            if shown:
                sheet.rung(network, name, says=says, words=words)
            else:
                sheet.rung(outputs[name], name, says=says, words=words, masters=circuit.behind)
