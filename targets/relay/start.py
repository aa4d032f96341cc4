"""The start branch every arrangement shares, and the anti-repeat relay that makes it obey the moment of a press."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Chart, Words
from compiler.condition import Always, Condition, Elapsed, Rise, Signal, Sustained, both, negated, walk
from compiler.machine import Machine
from compiler.shape import shape_of
from compiler.truth import possible
from grammar.rungs.tree import Network
from targets.relay.net import Net
from targets.relay.network import WIRE, Term, Unfit, complement, contact, nc, parallel, series, terms
from targets.relay.sheet import Sheet
from targets.target import Assumption

__all__ = [
    "Press",
    "StartBranch",
    "plain_start",
    "plainly_started",
    "press_of",
    "runs",
    "start_branch",
    "switches_work",
    "takes_time",
]


@dataclass(frozen=True, slots=True)
class _Guard:
    """An anti-repeat relay to be drawn once the relay that shows the cycle running has its place."""

    relay: str
    button: str
    rest: Network


@dataclass(frozen=True, slots=True)
class StartBranch:
    """The contacts that start the cycle, and the anti-repeat relays that go with them."""

    network: Network
    guards: tuple[_Guard, ...]
    announces: frozenset[Assumption]
    called: str = "The start branch"

    def draw(self, sheet: Sheet, *, idle: Network, runs: Network, words: Words) -> None:
        """The rungs of the anti-repeat relays. ``idle`` conducts while no cycle runs, ``runs`` while STOP is up.

        AR := idle, (START NC or AR and rest and STOP NC). It picks up when START is seen released; with START down
        it stays in only while that very press may still start the cycle: at rest and STOP up. A press at any other
        time drops it out until START is let go.
        """
        for guard in self.guards:
            hold = series(contact(guard.relay), guard.rest, runs)
            says = (
                f"{guard.relay}, anti-repeat: {guard.button} has been seen released since the last cycle. "
                f"A held {guard.button} runs one cycle only."
            )
            sheet.rung(series(idle, parallel(nc(guard.button), hold)), guard.relay, says=says, words=words)


@dataclass(frozen=True, slots=True)
class Press:
    """How a press is told in contacts. ``made`` conducts while the button is down, ``kept`` for as long as a relay
    that has seen the button released may stay in though the button is down again."""

    made: Network
    kept: Network


def press_of(sheet: Sheet, button: str, condition: Condition, rest: Network, *, words: Words) -> Press:
    """A press that counts only while ``rest``, the contacts of ``condition``, conducts.

    Where a time is asked for besides, a press at the very instant it runs out would race the timer: the button's
    contact moves at once, the timed contact a moment later. A relay that follows the button puts the two in step.
    """
    if not any(isinstance(part, Sustained | Elapsed) for part in walk(condition)):
        return Press(contact(button), rest)
    follower = sheet.relay("PR")
    says = f"{follower} follows {button}, in step with the timed contacts that a press of {button} is weighed with."
    sheet.rung(contact(button), follower, says=says, words=words)
    return Press(contact(follower), parallel(rest, nc(follower)))


def start_branch(
    sheet: Sheet, trigger: Condition, *, words: Words, anti_repeat: bool, extra: Network = WIRE
) -> StartBranch:
    """The start branch of a trigger; ``extra`` are contacts the arrangement itself needs in it.

    A trigger by level needs nothing more. Without anti-repeat a press becomes a plain contact, and what that
    takes from the operator is announced.

    Raises Unfit where the trigger asks for a press of what is no input, or has no ``terms``.
    """
    branches: list[Network] = []
    guards: list[_Guard] = []
    announces: set[Assumption] = set()
    for term in terms(trigger):
        rest = series(_rest(sheet, term), extra)
        if term.rise is None:
            branches.append(rest)
            continue
        if not any(i.name == term.rise for i in sheet.machine.inputs):
            raise Unfit(f"it starts on {term.rise}, which is not an input")
        if anti_repeat:
            press = press_of(sheet, term.rise, term.rest, rest, words=words)
            guard = _Guard(sheet.relay("AR"), term.rise, press.kept)
            guards.append(guard)
            branches.append(series(press.made, contact(guard.relay), rest))
        else:
            branches.append(series(contact(term.rise), rest))
            announces |= {Assumption.START_RELEASED, Assumption.SUPPLY_WITH_START}
            announces |= set() if rest == WIRE else {Assumption.START_AT_HOME}
    called = "The start branch" if sheet.machine.start is not None else "The branch that begins a cycle"
    return StartBranch(parallel(*branches), tuple(guards), frozenset(announces), called)


def plain_start(machine: Machine, chart: Chart, read: Net) -> frozenset[str]:
    """The START button, where its press is all that a chart of one station asks of it, and asks it in one way."""
    asked = [
        (t.condition, t.targets)
        for t in chart.transitions
        if any(isinstance(part, Rise | Signal) and part.device == machine.start for part in walk(t.condition))
    ]
    pressed = any(isinstance(part, Rise) for condition, _ in asked for part in walk(condition))
    if machine.start is None or not pressed or len(set(asked)) != 1 or read.memories or len(read.starts) != 1:
        return frozenset()
    return frozenset({machine.start})


def plainly_started(machine: Machine, chart: Chart) -> frozenset[Assumption]:
    """What START as a plain contact takes for granted: no more of the switches than that a cycle which they might let
    pass in no time, START still down, is not begun while they stand so."""
    found = {Assumption.START_RELEASED, Assumption.SUPPLY_WITH_START}
    presses = [t.condition for t in chart.transitions if Rise(device=machine.start or "") in walk(t.condition)]
    if any(not isinstance(term.rest, Always) for condition in presses for term in terms(condition)):
        found.add(Assumption.START_AT_HOME)
    if _over_in_no_time(chart):
        found.add(Assumption.START_AT_HOME)
    return frozenset(found)


def takes_time(condition: Condition) -> bool:
    """Whether a condition holds at no instant at which nothing has lasted."""
    lasting = [part for part in walk(condition) if isinstance(part, Elapsed | Sustained)]
    return not possible(both(condition, *(negated(part) for part in lasting)))


def _over_in_no_time(chart: Chart) -> bool:
    """Whether a cycle could begin and end at one instant, were every switch to stand as it is asked to."""
    shape = shape_of(chart)
    ways = [t for t in shape.ways if not takes_time(t.condition)]
    passed, more = set[str](), set(shape.initial)
    while more:
        passed |= more
        more = {name for t in ways if more & set(t.sources) for name in t.targets}
        if more & shape.rest:
            return True
        more -= passed
    return False


def switches_work(machine: Machine) -> frozenset[Assumption]:
    """What a dwell circuit takes for granted of the switches: it looks at them otherwise than the sequence does."""
    fitted = any(a.limit_switches or a.pressure_switches for a in machine.actuators)
    return frozenset({Assumption.SWITCHES_WORK}) if fitted else frozenset()


def _rest(sheet: Sheet, term: Term) -> Network:
    return WIRE if isinstance(term.rest, Always) else sheet.conducts(term.rest)


def runs(sheet: Sheet, stop: Condition | None) -> Network:
    """The contacts that conduct while nothing stops the cycle: for STOP, its NC contact.

    Raises Unfit for a stop that is timed: its relay would answer a moment after a press at the same instant.
    """
    if stop is None:
        return WIRE
    if any(isinstance(part, Sustained | Elapsed) for part in walk(stop)):
        raise Unfit("what stops the cycle must last a while before it acts")
    return complement(sheet.conducts(stop))
