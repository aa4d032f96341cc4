"""The step chain: a sealed-in relay a step, each needing the one before; the last one drops out the first, and all.

    K1 := (start or K1), STOP NC, F.. NC, Klast NC
    Kn := (K(n-1) and what ends step n-1, or Kn), K1
    output := Ka, Kb NC      for each stretch of steps a .. b-1 in which it is on
    TRn on-delay := Kn       the time of step n;  for a timeout := Kn, K(n+1) NC
    F := (TR NOTC, Kn, K(n+1) NC, not what ends step n, or F), STOP NC
    R := (Klast or R), STOP NC, (K1 NC or Klast)      where something stays on between cycles

Latch-through (accumulating) chain, common textbook practice: step n is on while Kn is in and K(n+1) is not. A press
in mid-sequence counts only once the button has been seen released in that very step (a relay AR, as for the
anti-repeat). A fault relay drops out the chain and stays in until STOP.
"""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Words
from compiler.condition import Elapsed, Rise, Signal, walk
from compiler.machine import Machine
from grammar.rungs.tree import Network
from grammar.rungs.write import write_network
from targets.relay.arrangement import Built
from targets.relay.chain import Chain, on_in, sustained_words
from targets.relay.chain import Link as ChainLink
from targets.relay.network import WIRE, Unfit, contact, nc, parallel, series, terms
from targets.relay.sheet import Sheet, tidy
from targets.relay.start import StartBranch, press_of, runs, start_branch
from targets.relay.watching import goes_wrong, name_timers

__all__ = ["build"]


@dataclass(frozen=True, slots=True)
class _Press:
    """A relay that has seen a button released in its step, for a press in mid-sequence."""

    relay: str
    button: str
    rest: Network


@dataclass
class _Circuit:
    """The names given out, and the networks that end steps, gathered before any rung is drawn."""

    sheet: Sheet
    chain: Chain
    steps: tuple[str, ...]  # K1 .. Klast: one more than there are steps
    faults: dict[str, str]
    rest: str | None
    run: Network
    ends: tuple[Network, ...] = ()
    presses: tuple[tuple[_Press, ...], ...] = ()


def build(machine: Machine, chain: Chain, *, anti_repeat: bool) -> Built:
    """The circuit. Raises Unfit with the reason where it does not fit."""
    sheet = Sheet(machine, sustained_words=sustained_words(chain))
    steps = tuple(sheet.relay() for _ in range(len(chain.links) + 1))
    names = dict.fromkeys(exit_.step.name for link in chain.links for exit_ in link.faults)
    faults = {name: sheet.relay("FR") for name in names}
    rest = sheet.relay("RR") if chain.rest is not None else None
    for link in chain.links:
        name_timers(sheet, link)
    sheet.outputs.update(_outputs(chain, steps, faults, rest, tuple(load.name for load in machine.loads)))
    # One press of a button that both ends a step and starts the cycle must not do both.
    start = start_branch(
        sheet, chain.trigger, words=chain.trigger_words, anti_repeat=anti_repeat or _presses_again(chain)
    )
    circuit = _Circuit(sheet, chain, steps, faults, rest, runs(sheet, chain.stop))
    _gather_ends(circuit)
    _draw_first(circuit, start)
    _draw_steps(circuit)
    _draw_timers(circuit)
    _draw_faults(circuit)
    _draw_rest(circuit)
    for name, net in sheet.outputs.items():
        sheet.rung(net, name, says=f"{name}: on in {_stretches(circuit, name)}.", words=_first_words(circuit, name))
    start.draw(sheet, idle=nc(steps[0]), runs=circuit.run, words=chain.trigger_words)
    how = (
        f"One relay a step, {steps[0]} to {steps[-1]}; the last one drops out the first, and with it the whole chain."
    )
    return Built(sheet, how, start.announces)


def _presses_again(chain: Chain) -> bool:
    """Whether a button whose press starts the cycle is pressed, or looked at, in mid-sequence as well."""
    starts = {part.device for part in walk(chain.trigger) if isinstance(part, Rise)}
    waits = [part for link in chain.links for part in walk(link.ends)]
    return any(isinstance(part, Rise | Signal) and part.device in starts for part in waits)


def _gather_ends(circuit: _Circuit) -> None:
    """What ends each step, as contacts; a press in it gets a relay that has seen the button released."""
    ends, presses = [], []
    for link in circuit.chain.links:
        branches: list[Network] = []
        seen: list[_Press] = []
        for term in terms(link.ends):
            rest = circuit.sheet.conducts(term.rest)
            if term.rise is None:
                branches.append(rest)
                continue
            told = press_of(circuit.sheet, term.rise, term.rest, rest, words=link.ends_words)
            press = _Press(circuit.sheet.relay("AR"), term.rise, told.kept)
            seen.append(press)
            branches.append(series(told.made, contact(press.relay), rest))
        ends.append(parallel(*branches))
        presses.append(tuple(seen))
    circuit.ends, circuit.presses = tuple(ends), tuple(presses)


def _draw_first(circuit: _Circuit, start: StartBranch) -> None:
    first, last = circuit.steps[0], circuit.steps[-1]
    faults = series(*(nc(relay) for relay in circuit.faults.values()))
    says = (
        f"{first}: the cycle runs. The start branch picks it up and its own contact seals it in; {last}, which comes "
        f"in when the last step is over, drops it out"
    )
    says += f", and so does a fault ({', '.join(circuit.faults.values())})." if circuit.faults else "."
    net = series(parallel(start.network, contact(first)), circuit.run, faults, nc(last))
    circuit.sheet.rung(net, first, says=says, words=circuit.chain.trigger_words)


def _draw_steps(circuit: _Circuit) -> None:
    for k, link in enumerate(circuit.chain.links):
        here, following = circuit.steps[k], circuit.steps[k + 1]
        last = k + 1 == len(circuit.chain.links)
        what = "the cycle is over" if last else f"step {k + 2}{_quoted(circuit.chain.links[k + 1])}"
        how = f"on {write_network(circuit.ends[k])}" if circuit.ends[k] != WIRE else "at once"
        circuit.sheet.rung(
            series(parallel(series(contact(here), circuit.ends[k]), contact(following)), contact(circuit.steps[0])),
            following,
            says=f"{following}: {what}. It follows {here} {how}.",
            words=link.ends_words if last else circuit.chain.links[k + 1].step.words,
        )
        for press in circuit.presses[k]:
            hold = series(contact(press.relay), press.rest)
            circuit.sheet.rung(
                series(contact(here), nc(following), parallel(nc(press.button), hold)),
                press.relay,
                says=f"{press.relay}: {press.button} has been seen released in this step, so its next press counts.",
                words=link.ends_words,
            )


def _draw_timers(circuit: _Circuit) -> None:
    """The time of a step runs with its relay; a timeout's stops when the step is over, to leave nothing running."""
    for k, link in enumerate(circuit.chain.links):
        here, following = circuit.steps[k], circuit.steps[k + 1]
        ending = {part for part in walk(link.ends) if isinstance(part, Elapsed)}
        for part, timer in circuit.sheet.elapsed.items():
            if part.step != link.step.name:
                continue
            net = contact(here) if part in ending else series(contact(here), nc(following))
            what = "times" if part in ending else "watches"
            says = f"{timer} {what} step {k + 1}{_quoted(link)}."
            circuit.sheet.rung(net, timer, says=says, words=link.step.words)


def _draw_faults(circuit: _Circuit) -> None:
    for name, relay in circuit.faults.items():
        branches: list[Network] = []
        message, words = "", None
        for k, link in enumerate(circuit.chain.links):
            here = series(contact(circuit.steps[k]), nc(circuit.steps[k + 1]))
            for exit_ in link.faults:
                if exit_.step.name == name:
                    message, words = tidy(exit_.step.fault), exit_.step.words
                    wrong = goes_wrong(circuit.sheet, exit_.condition, link, circuit.ends[k])
                    branches.append(series(here, wrong))
        net = series(parallel(*branches, contact(relay)), circuit.run)
        says = f"{relay}: fault '{message}'. It drops out the chain and stays in until STOP."
        circuit.sheet.rung(net, relay, says=says, words=words)


def _draw_rest(circuit: _Circuit) -> None:
    if circuit.rest is None:
        return
    first, last = circuit.steps[0], circuit.steps[-1]
    net = series(parallel(contact(last), contact(circuit.rest)), circuit.run, parallel(nc(first), contact(last)))
    says = f"{circuit.rest}: the machine rests after a cycle with something left on, until the next start or STOP."
    circuit.sheet.rung(net, circuit.rest, says=says, words=circuit.chain.links[-1].ends_words)


def _outputs(
    chain: Chain, steps: tuple[str, ...], faults: dict[str, str], rest: str | None, order: tuple[str, ...]
) -> dict[str, Network]:
    """For each output that is ever on: one branch a stretch of steps, and one a fault or rest relay."""
    exits = {exit_.step.name: exit_.step for link in chain.links for exit_ in link.faults}
    found: dict[str, Network] = {}
    for output in order:
        branches: list[Network] = []
        if output in on_in(chain.initial):
            at_rest = [*faults.values(), *([rest] if rest else [])]
            branches.append(series(nc(steps[0]), *map(nc, at_rest)))
        lit = [output in on_in(link.step) for link in chain.links]
        for start, on in enumerate(lit):
            if on and not (start and lit[start - 1]):
                end = next((k for k in range(start, len(lit)) if not lit[k]), None)
                # The last relay is in for a moment only and drops the others out: nothing needs its contact.
                branches.append(series(contact(steps[start]), nc(steps[end]) if end is not None else WIRE))
        branches += [contact(relay) for name, relay in faults.items() if output in on_in(exits[name])]
        if rest is not None and chain.rest is not None and output in on_in(chain.rest):
            branches.append(contact(rest))
        if branches:
            found[output] = parallel(*branches)
    missing = {output for link in chain.links for output in on_in(link.step)} - set(order)
    if missing:
        raise Unfit(f"the machine has no {', '.join(sorted(missing))}")
    return found


def _stretches(circuit: _Circuit, output: str) -> str:
    numbers = [str(k) for k, link in enumerate(circuit.chain.links, start=1) if output in on_in(link.step)]
    told = [("step " if len(numbers) == 1 else "steps ") + ", ".join(numbers)] if numbers else []
    exits = {exit_.step.name: exit_.step for link in circuit.chain.links for exit_ in link.faults}
    told += [f"fault {relay}" for name, relay in circuit.faults.items() if output in on_in(exits[name])]
    if circuit.chain.rest is not None and output in on_in(circuit.chain.rest):
        told.append("rest after a cycle")
    if output in on_in(circuit.chain.initial):
        told.append("rest")
    return " and ".join(told)


def _first_words(circuit: _Circuit, output: str) -> Words | None:
    """The words of the first step, or of the fault, that switches an output on."""
    exits = [exit_.step for link in circuit.chain.links for exit_ in link.faults]
    steps = [*(link.step for link in circuit.chain.links), *exits, circuit.chain.rest, circuit.chain.initial]
    return next((step.words for step in steps if step is not None and output in on_in(step)), None)


def _quoted(link: ChainLink) -> str:
    words = tidy(link.step.words.text)
    return f" ({words})" if words else ""
