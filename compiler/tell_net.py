"""A chart of more than one line of steps told in plain words: each step by name, and where it leads."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from compiler.chart import Chart, CountingKind, Step, Transition
from compiler.condition import Always, Condition, Elapsed
from compiler.findings.subject import Subject
from compiler.units import time_text

__all__ = ["goes_in_one_line", "tell_beside", "tell_net"]

Words = Callable[[Condition], str]
Doing = Callable[[Subject, Step], list[str]]


def goes_in_one_line(subject: Subject) -> bool:
    """Whether the steps follow one another, as one machine's plain cycle does."""
    chart, shape = subject.chart, subject.shape
    names = [step.name for step in chart.steps if not (step.fault or step.name in shape.rest)]
    plain = all(len(t.sources) == 1 == len(t.targets) for t in chart.transitions)
    homeward = chart.forcing is not None and chart.forcing.steps
    if shape.memory or len(shape.stations) > 1 or not plain or chart.counters or homeward:
        return False
    following = dict(zip(names, [*names[1:], ""], strict=True))
    return all(
        len(subject.onward(step)) <= 1 and all((t.targets[0] in names) <= (t.targets[0] == following[step.name])
                                               for t in subject.onward(step))
        for step in (subject.step(name) for name in names)
    )  # fmt: skip


def tell_net(subject: Subject, words: Words, doing: Doing) -> Iterator[str]:
    """For each station what starts it and its steps; then the way home after a STOP, what is remembered, and what
    leads out of faults. ``words`` says a condition, ``doing`` what a step does."""
    chart, shape = subject.chart, subject.shape
    told: set[str] = set()
    for rest in shape.stations:
        begin = next(step for step in chart.steps if step.name in rest)
        for t in subject.onward(begin):
            yield f"When {words(t.condition)}: {_where(subject, t)}."
        after = _after(subject, rest) - told - shape.rest
        told |= after
        for step in chart.steps:
            if step.name in after:
                yield f"  {step.name}: {_step(subject, step, words, doing)}"
    elsewhere = told | shape.rest | shape.memory | shape.fault
    home = [step for step in chart.steps if step.name not in elsewhere]
    if chart.forcing is not None and chart.forcing.steps:
        first = _names(subject, chart.forcing.steps)
        yield f"When {words(chart.forcing.condition)}, everything drops out; then {first}:"
    for step in home:
        yield f"  {step.name}: {_step(subject, step, words, doing)}"
    for step in chart.steps:
        if step.name in shape.memory and not step.initial:
            (asked,) = (t for t in chart.transitions if step.name in t.targets)
            (over,) = subject.exits(step)
            meaning = f" ({step.words.text})" if step.words.text else ""
            yield f"{step.name}{meaning} is active from when {words(asked.condition)} until {words(over.condition)}."
        for t in subject.exits(step) if step.fault else ():
            yield f'After the fault "{step.fault}", when {words(t.condition)}: {_where(subject, t)}.'


def tell_beside(chart: Chart, words: Words) -> Iterator[str]:
    """Who ends a fault that no step leads out of; the interlocks, and the counters."""
    led_out = {name for t in chart.transitions for name in t.sources}
    if any(step.fault and step.name not in led_out for step in chart.steps):
        ends = "the supply is switched off" if chart.forcing is None else words(chart.forcing.condition)
        yield f"A fault stays until {ends}, with everything off but what shows it."
    for interlock in chart.interlocks:
        yield f"{interlock.output} comes on only while {words(interlock.only_while)}."
    resting = {
        c.counter for step in chart.steps if step.initial for c in step.counting if c.kind is CountingKind.CLEAR
    }
    lasting = [name for name in chart.counters if name not in resting]
    if lasting:
        names = ", ".join(lasting)
        keep = "keeps its count" if len(lasting) == 1 else "keep their counts"
        yield f"{names} {keep} over a STOP unless a step clears it, and not when the supply is lost."


def _after(subject: Subject, rest: frozenset[str]) -> frozenset[str]:
    """The steps that follow from a station's rest, those in which a stopped one waits among them."""
    found, waiting = set(rest), list(rest)
    while waiting:
        for t in subject.exits(subject.step(waiting.pop())):
            for name in t.targets:
                if name not in found and not subject.step(name).fault:
                    found.add(name)
                    waiting.append(name)
    return frozenset(found)


def _step(subject: Subject, step: Step, words: Words, doing: Doing) -> str:
    done = [*doing(subject, step), *_counted(step)]
    ways = subject.exits(step)
    onward = [t for t in ways if not subject.shape.fault & set(t.targets)]
    said = [_way(subject, step, t, words, first=k == 0 and len(onward) == 1) for k, t in enumerate(onward)]
    waits = bool(onward) and not isinstance(onward[0].condition, Always)
    begin = " and ".join(done) if done else "wait" if waits else ""
    ending = "; ".join(said)
    faults = "".join(_fault(subject, t, words) for t in ways if subject.shape.fault & set(t.targets))
    comma = "," if ending.startswith("then ") else ""
    joined = f"{begin}{comma} {ending}" if begin and len(onward) == 1 else f"{begin}: {ending}" if begin else ending
    return f"{joined}{faults}".strip()


def _counted(step: Step) -> Iterator[str]:
    for counting in step.counting:
        yield f"{'clear' if counting.kind is CountingKind.CLEAR else 'count'} {counting.counter}"


def _way(subject: Subject, step: Step, t: Transition, words: Words, *, first: bool) -> str:
    where = _where(subject, t)
    others = [name for name in t.sources if name != step.name]
    match t.condition:
        case Always() if others:
            return (
                f"until {_names(subject, tuple(others))} {'waits' if len(others) == 1 else 'wait'} too, then {where}"
            )
        case Always():
            return f"then {where}"
        case Elapsed(time_us=time) if first:
            return f"for {time_text(time)}, then {where}"
        case condition if first:
            return f"until {words(condition)}, then {where}"
        case condition:
            return f"if {words(condition)}, {where}"


def _fault(subject: Subject, t: Transition, words: Words) -> str:
    fault = next(subject.step(name).fault for name in t.targets if subject.step(name).fault)
    beside = ", and the other branches break off" if t.aborts else ""
    return f'; if {words(t.condition)}, fault "{fault}"{beside}'


def _where(subject: Subject, t: Transition) -> str:
    together = " together" if len(t.targets) > 1 else ""
    return "rest" if subject.shape.rest.issuperset(t.targets) else f"{_names(subject, t.targets)}{together}"


def _names(subject: Subject, names: tuple[str, ...]) -> str:
    shown = [name for name in names if name not in subject.shape.memory]
    return " and ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
