"""A chart read as a chain: one step after another and back to the start, with faults that lead off to the side."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import ActionKind, Chart, Forcing, Step, Transition, Words
from compiler.condition import Always, Condition, Rise, Signal, Sustained, walk
from compiler.shape import shape_of
from targets.relay.network import Unfit

__all__ = ["Chain", "FaultExit", "Link", "chain", "no_way_home", "on_in", "sustained_words"]

_INSTEAD = "the step chain and the one-hot chain are for that"


@dataclass(frozen=True, slots=True)
class FaultExit:
    """A way out of a step into a fault step, where only STOP helps."""

    step: Step
    condition: Condition


@dataclass(frozen=True, slots=True)
class Link:
    """A step of the cycle, what ends it, and the faults it may end in."""

    step: Step
    ends: Condition
    ends_words: Words
    faults: tuple[FaultExit, ...] = ()


@dataclass(frozen=True, slots=True)
class Chain:
    """The whole cycle. ``rest`` is where it waits after the first cycle, if that is not the initial step; ``stop``
    the condition that forces it home; ``home`` the steps that a stop, at the moment it begins, leads home by."""

    initial: Step
    trigger: Condition
    trigger_words: Words
    links: tuple[Link, ...]
    rest: Step | None
    stop: Condition | None
    stop_words: Words
    home: tuple[Link, ...] = ()


def chain(chart: Chart) -> Chain:
    """The chain a chart makes. Raises Unfit, with the reason, when it makes none."""
    _plain(chart)
    steps = {step.name: step for step in chart.steps}
    leaving: dict[str, list[Transition]] = {step.name: [] for step in chart.steps}
    for transition in chart.transitions:
        leaving[transition.sources[0]].append(transition)
    initial = next(step for step in chart.steps if step.initial)
    start = _only(leaving[initial.name], initial)
    links: list[Link] = []
    at = steps[start.targets[0]]
    while at is not initial:
        if any(link.step is at for link in links) or at.fault:
            raise Unfit("its steps do not run in one line back to the start")
        onward = [t for t in leaving[at.name] if not steps[t.targets[0]].fault]
        onward_one = _only(onward, at)
        if links and onward_one.targets == (links[0].step.name,):
            break
        faults = tuple(
            FaultExit(steps[t.targets[0]], t.condition) for t in leaving[at.name] if steps[t.targets[0]].fault
        )
        links.append(Link(at, onward_one.condition, onward_one.words, faults))
        at = steps[onward_one.targets[0]]
    rest = None if at is initial else at
    if rest is not None and (len(leaving[rest.name]) > 1 or leaving[rest.name][0].condition != start.condition):
        raise Unfit("it starts again on another condition than the first time")
    if not links:
        raise Unfit("it has no steps")
    home = _way_home(chart.forcing, steps, leaving)
    _all_there(chart, initial, [*links, *home], rest, leaving)
    stop, stop_words = (None, Words()) if chart.forcing is None else (chart.forcing.condition, chart.forcing.words)
    if home:
        stop = _held(stop)
    return Chain(initial, start.condition, start.words, tuple(links), rest, stop, stop_words, home)


def _way_home(
    forcing: Forcing | None, steps: dict[str, Step], leaving: dict[str, list[Transition]]
) -> tuple[Link, ...]:
    """The steps that a stop leads to, in one line to the initial step."""
    if forcing is None or not forcing.steps:
        return ()
    if len(forcing.steps) > 1:
        raise Unfit(f"its stop leads to several steps at once; {_INSTEAD}")
    found: list[Link] = []
    at = steps[forcing.steps[0]]
    while not at.initial:
        if any(link.step is at for link in found):
            raise Unfit("its stop does not lead home in one line")
        onward = _only(leaving[at.name], at)
        if steps[onward.targets[0]].fault:
            raise Unfit(f"a fault leads out of step {at.name}, on the way home; {_INSTEAD}")
        found.append(Link(at, onward.condition, onward.words))
        at = steps[onward.targets[0]]
    return tuple(found)


def _held(stop: Condition | None) -> Condition:
    """That the button is down whose press leads home."""
    if not isinstance(stop, Rise):
        raise Unfit(f"more than the press of one button leads home; {_INSTEAD}")
    return Signal(device=stop.device)


def no_way_home(chain: Chain) -> Chain:
    """The chain, for an arrangement whose stop only drops out everything. Raises Unfit where it has a way home."""
    if chain.home:
        raise Unfit(f"it has a stop that leads home by steps of its own; cascade groups, {_INSTEAD}")
    return chain


def sustained_words(chain: Chain) -> dict[Sustained, Words]:
    """The words in which each condition that must last is first met."""
    told = [(chain.trigger, chain.trigger_words), *((link.ends, link.ends_words) for link in chain.links)]
    found: dict[Sustained, Words] = {}
    for condition, words in told:
        for part in walk(condition):
            if isinstance(part, Sustained):
                found.setdefault(part, words)
    return found


def _plain(chart: Chart) -> None:
    beyond = {
        "counters": chart.counters,
        "interlocks": chart.interlocks,
    }
    found = [what for what, is_there in beyond.items() if is_there]
    if found:
        raise Unfit(f"it has {' and '.join(found)}; {_INSTEAD}")
    if any(len(t.sources) > 1 or len(t.targets) > 1 for t in chart.transitions):
        raise Unfit(f"it has work going on side by side, not one line of steps; {_INSTEAD}")
    if sum(step.initial for step in chart.steps) != 1:
        several = len(shape_of(chart).stations) > 1
        what = "has several stations" if several else "remembers a press, which a chain of one line does not"
        raise Unfit(f"it {what}; {_INSTEAD}")
    for step in chart.steps:
        for action in step.actions:
            if action.kind is not ActionKind.CONTINUOUS:
                raise Unfit(f"{action.output} is set in one step and reset in another")
            if not isinstance(action.condition, Always):
                raise Unfit(f"{action.output} depends on a condition inside a step")


def _only(leaving: list[Transition], step: Step) -> Transition:
    if not leaving:
        raise Unfit(f"nothing follows step {step.name}")
    if len(leaving) > 1:
        raise Unfit(f"it has a choice of ways after step {step.name}")
    return leaving[0]


def _all_there(
    chart: Chart, initial: Step, links: list[Link], rest: Step | None, leaving: dict[str, list[Transition]]
) -> None:
    reached = {initial.name, *(link.step.name for link in links), *([rest.name] if rest else [])}
    for link in links:
        for exit_ in link.faults:
            if leaving[exit_.step.name]:
                raise Unfit(f"the fault step {exit_.step.name} leads on by itself")
            reached.add(exit_.step.name)
    if any(step.name not in reached and not step.fault for step in chart.steps):
        raise Unfit("it has steps outside the main line")


def on_in(step: Step) -> frozenset[str]:
    """The outputs that are on in a step."""
    return frozenset(action.output for action in step.actions)
