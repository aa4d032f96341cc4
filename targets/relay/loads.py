"""What step relays work: timers, counters, stored outputs and the loads with their interlocks."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from compiler.chart import Action, ActionKind, Chart, CountingKind, Interlock, Step, Words
from compiler.condition import Elapsed, Not, Signal, walk
from compiler.spoken import spans
from grammar.rungs.tree import Master, Network, Terminal
from targets.relay.board import Board, followed, told_of
from targets.relay.net import counting, written
from targets.relay.network import Unfit, complement, contact, parallel, series
from targets.relay.sheet import tidy

__all__ = ["Masters", "commanded", "draw_counters", "draw_keepers", "draw_loads", "draw_timers", "keepers"]

Masters = Callable[[Iterable[str]], tuple[Master, ...]]
"""The masters behind which a rung belongs that is about these steps."""


def draw_timers(board: Board, running: Callable[[Elapsed], Network]) -> None:
    """``running`` gives the contacts behind which the time of a step runs."""
    for part, timer in board.sheet.elapsed.items():
        step = board.net.named[part.step]
        board.sheet.rung(running(part), timer, says=f"{timer} times {told_of(step)}.", words=step.words)


def draw_counters(board: Board, masters: Masters) -> None:
    """Every number asked for has a counter of its own, all counting together. Raises Unfit where nothing counts."""
    coils = [
        (part, counter, kind, [step for step in board.net.steps if part.counter in counting(step, kind)])
        for part, counter in board.sheet.counted.items()
        for kind in (CountingKind.COUNT, CountingKind.CLEAR)
    ]
    for part, counter, kind, steps in sorted(coils, key=lambda coil: -len(masters(step.name for step in coil[3]))):
        names = [step.name for step in steps]
        if kind is CountingKind.COUNT:
            if not steps:
                raise Unfit(f"nothing counts {part.counter}")
            terminal, what, upto = Terminal.COUNT, "counts one", f", up to {part.at_least}"
        else:
            terminal, what, upto = Terminal.RESET, "goes back to 0", ""
        if steps:
            net = parallel(*(_counts(board, step, part.counter, alone=len(steps) == 1) for step in steps))
            one_of = spans(names).replace(" and ", " or ") if len(names) < 3 else f"one of {spans(names)}"
            says = f"{counter} {what} each time {one_of} begins{upto}."
            words = next((step.words for step in steps if step.words.text), _first_counted(board, part.counter))
            board.sheet.rung(net, counter, says=says, words=words, terminal=terminal, masters=masters(names))


def _first_counted(board: Board, counter: str) -> Words:
    """The words of the first step that has to do with a counter and has words."""
    with_words = (
        s.words for s in board.chart.steps if s.words.text and any(c.counter == counter for c in s.counting)
    )
    return next(with_words, Words())


def _counts(board: Board, step: Step, counter: str, *, alone: bool) -> Network:
    """A counting coil must be dead before the next step makes it live, and a reset coil before that step counts."""
    if counter in counting(step, CountingKind.COUNT):
        return board.counts(step.name, alone=alone)
    onward = [
        way
        for way in board.net.out_of[step.name]
        if any(counter in counting(board.net.named[name], CountingKind.COUNT) for name in way.targets)
    ]
    return series(board.on(step.name), *(followed(board, way) for way in onward))


def keepers(board: Board) -> dict[str, str]:
    """Names a relay for every output that one step sets and another resets."""
    stored = {output for step in board.net.steps for output, on in written(step).items() if on}
    return {output: board.sheet.relay("MR") for output in board.chart.outputs if output in stored}


def draw_keepers(board: Board, kept: dict[str, str], masters: Masters) -> None:
    """The rungs of the relays that keep outputs on."""
    for output, relay in kept.items():
        sets = [step for step in board.net.steps if written(step).get(output)]
        resets = [step.name for step in board.net.steps if written(step).get(output) is False]
        names = [step.name for step in sets]
        ends = series(*(complement(board.on(name)) for name in resets))
        net = series(parallel(*(board.on(name) for name in names), contact(relay)), ends)
        until = f" until {', '.join(resets)}" if resets else ""
        says = f"{relay} keeps {output} on from {', '.join(names)}{until}."
        board.sheet.rung(net, relay, says=says, words=sets[0].words, masters=masters(names))


def commanded(board: Board, kept: dict[str, str]) -> dict[str, Network]:
    """For each output that is ever on, a branch for each step that turns it on. Raises Unfit."""
    return {name: parallel(*nets) for name in board.chart.outputs if (nets := _command(board, name, kept))}


def draw_loads(board: Board, commands: dict[str, Network]) -> None:
    """The loads, in the machine's order; one that an interlock asks for is commanded by a relay. Raises Unfit."""
    missing = sorted(set(commands) - {load.name for load in board.machine.loads})
    if missing:
        raise Unfit(f"the machine has no {', '.join(missing)}")
    for name in _asked_for(board.chart, tuple(commands)):
        relay = board.sheet.relay("DR")
        says = f"{relay}: the steps command {name}, whether or not an interlock lets it come on."
        board.sheet.rung(commands[name], relay, says=says, words=_first_words(board, name))
        commands[name] = board.sheet.outputs[name] = contact(relay)
    for load in board.machine.loads:
        if load.name in commands:
            locks = [
                i
                for i in board.chart.interlocks
                if i.output == load.name and not _idle(i, board.chart.outputs, commands)
            ]
            net = series(commands[load.name], *(board.listening.told(lock.only_while) for lock in locks))
            says = f"{load.name}: on in {_where(board, load.name)}{_locked(locks)}."
            board.sheet.rung(net, load.name, says=says, words=_first_words(board, load.name))


def _asked_for(chart: Chart, commanded: tuple[str, ...]) -> list[str]:
    """The outputs that interlocks look at, in order."""
    asked = {
        part.device
        for lock in chart.interlocks
        if not _idle(lock, chart.outputs, commanded)
        for part in walk(lock.only_while)
        if isinstance(part, Signal)
    }
    return [name for name in commanded if name in asked]


def _idle(interlock: Interlock, outputs: tuple[str, ...], commanded: Iterable[str]) -> bool:
    """Whether nothing can ever come of an interlock: no step turns on the output it is against."""
    match interlock.only_while:
        case Not(of=Signal(device=name)):
            return name in outputs and name not in commanded
        case _:
            return False


def _locked(locks: list[Interlock]) -> str:
    told = "; ".join(tidy(lock.words.text) for lock in locks if lock.words.text)
    return (
        f", but only as an interlock lets it ({told})" if told else ", but only as an interlock lets it" * bool(locks)
    )


def _command(board: Board, output: str, kept: dict[str, str]) -> list[Network]:
    """A branch for each step that turns an output on, and one where it is stored.

    Where the next step turns on what sends the same rod or motor the other way, the branch opens before that.
    """
    found: list[Network] = [contact(kept[output])] if output in kept else []
    against = _opposed(board, output)
    for step in board.chart.steps:
        if step.name not in board.relays:
            continue
        for action in _continuous(step, output):
            onward = [way for way in board.net.leaving(step.name) if against.intersection(way.targets)]
            net = series(contact(board.relays[step.name]), *(followed(board, way) for way in onward))
            found.append(series(net, board.listening.told(action.condition)))
    return found


def _continuous(step: Step, output: str) -> list[Action]:
    return [a for a in step.actions if a.output == output and a.kind is ActionKind.CONTINUOUS]


def _opposed(board: Board, output: str) -> set[str]:
    """The steps that turn on what sends the same rod or motor the other way."""
    pairs = [(a.valve.extend, a.valve.retract) for a in board.machine.actuators]
    pairs += [(motor.forward, motor.reverse) for motor in board.machine.motors]
    others = {other for pair in pairs if output in pair for other in pair if other not in (output, None)}
    return {s.name for s in board.net.steps if any(a.output in others for a in s.actions)}


def _where(board: Board, output: str) -> str:
    on = [step for step in board.chart.steps if _continuous(step, output) or written(step).get(output)]
    kept = any(written(step) for step in board.chart.steps if output in written(step))
    faults = [board.relays.get(step.name, step.name) for step in on if step.fault]
    steps = [step.name for step in on if not step.fault]
    told = [f"{'step' if len(steps) == 1 else 'steps'} {spans(steps)}"] if steps else []
    told += [f"any fault ({spans(faults)})" if len(faults) > 1 else f"fault {faults[0]}"] if faults else []
    return f"{' and '.join(told)}{' and from there on' * kept}"


def _first_words(board: Board, output: str) -> Words | None:
    """The words of the first step that turns an output on."""
    steps = [s for s in board.chart.steps if _continuous(s, output) or written(s).get(output)]
    return steps[0].words if steps else None
