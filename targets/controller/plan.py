"""What the function block of a chart is made of: steps, variables and blocks, each with its name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from compiler.chart import ActionKind, Chart, CountingKind, Step
from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
    either,
    walk,
)
from compiler.machine import InputKind, Machine
from grammar.structured_text.literals import duration_text
from targets.controller.aborting import groups
from targets.controller.names import mangled

__all__ = ["STORED", "Names", "Plan", "counts", "expression", "interlocked", "output_condition", "plan", "writes"]

_ACTUATED = {InputKind.PUSHBUTTON: "pressed", InputKind.SELECTOR: "selected"}
STORED = {
    ActionKind.SET_ON_ENTRY: (True, "TRUE"),
    ActionKind.RESET_ON_ENTRY: (True, "FALSE"),
    ActionKind.SET_ON_EXIT: (False, "TRUE"),
    ActionKind.RESET_ON_EXIT: (False, "FALSE"),
}
"""Stored actions: whether they are written as the step is entered, and what is written."""


@dataclass(frozen=True)
class Plan:
    """Names for everything.

    ``numbers`` are the steps' numbers in the CASE, empty where each step has a flag. ``active`` says that a
    step is active; ``before`` names what flags were, ``clears`` the transitions that clear, ``aborted`` that a
    transition of a group clears which breaks off these steps. ``wires`` are device variables, ``actuated`` say
    that an input is actuated, whatever its wiring; ``signals`` is what a condition looks at for a device.
    ``timers`` are the blocks of times, ``over`` says that one is over, ``stored`` the outputs with a memory of
    their own, ``commanded`` what the steps call for where an interlock follows, ``counters`` those that some
    condition asks about, ``most`` how far they count.
    """

    chart: Chart
    numbers: Mapping[str, int]
    active: Mapping[str, str]
    before: Mapping[str, str]
    clears: Mapping[str, str]
    aborted: Mapping[frozenset[str], str]
    wires: Mapping[str, str]
    actuated: Mapping[str, str]
    signals: Mapping[str, str]
    edges: tuple[str, ...]
    timers: Mapping[Condition, str]
    over: Mapping[Condition, str]
    stored: tuple[str, ...]
    commanded: Mapping[str, str]
    counters: Mapping[str, str]
    most: Mapping[str, int]


class Names:
    """Gives out names that nothing else in the block bears, letter case ignored."""

    def __init__(self, taken: Iterable[str]) -> None:
        self._taken = {name.casefold() for name in taken}

    def new(self, base: str, ending: str) -> str:
        """A name of the user's with an ending of ours, which keeps it from being a reserved word."""
        plain = unicodedata.normalize("NFKD", base).encode("ascii", "ignore").decode()
        body = re.sub(r"[^A-Za-z0-9]+", "_", plain).strip("_") or "Nameless"
        return self._free(f"{'N' if body[0].isdigit() else ''}{body}_{ending}")

    def plain(self, name: str, ending: str, *, fit: Callable[[str], bool]) -> str:
        """The name itself where it is ``fit`` and nothing else bears it, else one with an ending."""
        if fit(name) and name.casefold() not in self._taken:
            self._taken.add(name.casefold())
            return name
        return self.new(name, ending)

    def _free(self, wanted: str) -> str:
        name = wanted
        again = 1
        while name.casefold() in self._taken:
            again += 1
            name = f"{wanted}_{again}"
        self._taken.add(name.casefold())
        return name


def plan(machine: Machine, chart: Chart, *, flags: bool) -> Plan:
    """The plan of a chart: with a flag for each step, or with one step number."""
    wires = mangled(device.name for device in (*machine.inputs, *machine.loads))
    used = [part for condition in chart.conditions for part in walk(condition)]
    rising = {part.device for part in used if isinstance(part, Rise)}
    written = {a.output for step in chart.steps for a in step.actions if a.kind in STORED}
    actuated = {i.name: f"{wires[i.name]}_{_ACTUATED.get(i.kind, 'made')}" for i in machine.inputs}
    stored = tuple(load.name for load in machine.loads if load.name in written)
    ours = [f"{wires[name]}_{ending}" for name in wires for ending in ("stored", "trig", "rose")]
    names = Names([*wires.values(), *actuated.values(), *ours, "StepNo", "FirstScan"])
    most = _most_counted(used)
    counters = {name: names.new(name, "count") for name in chart.counters if name in most}
    numbers = {} if flags else {step.name: 10 * k for k, step in enumerate(chart.steps)}
    remembered = {step.name for step in chart.steps if step.counting or any(a.kind in STORED for a in step.actions)}
    interlocks = {interlock.output for interlock in chart.interlocks}
    active = {s.name: names.new(s.name, "active") if flags else f"(StepNo = {numbers[s.name]})" for s in chart.steps}
    before = {name: names.new(name, "was_active") for name in _in_order(chart, remembered)} if flags else {}
    clears = {t.name: names.new(t.name, "clears") for t in chart.transitions} if flags else {}
    aborted = {g.steps: names.new("Aborted", str(k)) for k, g in enumerate(groups(chart), 1)} if flags else {}
    timers = _timers(used, numbers, names)
    return Plan(
        chart,
        numbers,
        active,
        before,
        clears,
        aborted,
        wires,
        actuated,
        {**{name: f"{wires[name]}_stored" for name in stored}, **actuated},
        tuple(i.name for i in machine.inputs if i.name in rising),
        timers,
        {part: f"{name}.Q" for part, name in timers.items()},
        stored,
        {load.name: names.new(wires[load.name], "commanded") for load in machine.loads if load.name in interlocks},
        counters,
        most,
    )


def _in_order(chart: Chart, names: Collection[str]) -> Iterator[str]:
    return (step.name for step in chart.steps if step.name in names)


def _timers(used: list[Condition], numbers: Mapping[str, int], names: Names) -> dict[Condition, str]:
    timers = list(dict.fromkeys(part for part in used if isinstance(part, Elapsed | Sustained)))
    sustained = [part for part in timers if isinstance(part, Sustained)]

    def name(part: Elapsed | Sustained) -> str:
        match part:
            case Elapsed(step=step, time_us=time):
                base = f"Step{numbers[step]}" if numbers else step
                return names.new(base, f"after_{duration_text(time)[2:]}")
            case Sustained():
                return names.new("Sustained", str(sustained.index(part) + 1))

    return {part: name(part) for part in timers}


def _most_counted(used: list[Condition]) -> dict[str, int]:
    """How far each counter has to count: the greatest number that a condition asks of it."""
    most: dict[str, int] = {}
    for part in used:
        if isinstance(part, Counted):
            most[part.counter] = max(most.get(part.counter, 0), part.at_least)
    return most


def output_condition(chart: Chart, output: str) -> Condition:
    """When the steps call for an output, and whether a stored action left it on (then it is a Signal)."""
    parts = [
        both(Active(step=step.name), action.condition)
        for step in chart.steps
        for action in step.actions
        if action.output == output and action.kind is ActionKind.CONTINUOUS
    ]
    if any(a.output == output and a.kind in STORED for step in chart.steps for a in step.actions):
        parts.append(Signal(device=output))
    return either(*parts) if parts else Not(of=Always())


def interlocked(made: Plan, output: str) -> str:
    """When an output with interlocks comes on. In them a Signal of an output is what the steps call for."""
    allowed = (interlock.only_while for interlock in made.chart.interlocks if interlock.output == output)
    called_for = {**made.wires, **made.commanded, **made.actuated}
    return expression(replace(made, signals=called_for), both(Signal(device=output), *allowed))


def writes(made: Plan, left: Collection[str], entered: Collection[str]) -> Iterator[str]:
    """The stored actions of going from some steps to others, in the order of the chart's steps. None are left as
    power comes on, when the initial situation is entered from nowhere."""
    for step in made.chart.steps:
        for action in step.actions:
            if action.kind in STORED:
                on_entry, value = STORED[action.kind]
                if step.name in (entered if on_entry else left):
                    yield f"{made.wires[action.output]}_stored := {value};"


def counts(made: Plan, entered: Step) -> Iterator[str]:
    """What becomes of the counters as a step is entered alone: cleared first, then one more."""
    for counter, name in made.counters.items():
        kinds = {counting.kind for counting in entered.counting if counting.counter == counter}
        if CountingKind.CLEAR in kinds:
            yield f"{name} := {1 if CountingKind.COUNT in kinds else 0};"
        elif CountingKind.COUNT in kinds:
            yield f"IF {name} < {made.most[counter]} THEN {name} := {name} + 1; END_IF;"


def expression(made: Plan, condition: Condition) -> str:
    """A condition in structured text, with brackets wherever operators mix."""
    match condition:
        case Always():
            return "TRUE"
        case Signal(device=name):
            return made.signals[name]
        case Rise(device=name):
            return f"{made.wires[name]}_rose"
        case Active(step=step):
            return made.active[step]
        case Counted(counter=name, at_least=number):
            return f"{made.counters[name]} >= {number}"
        case Elapsed() | Sustained():
            return made.over[condition]
        case Not(of=Always()):
            return "FALSE"
        case Not(of=Counted(counter=name, at_least=number)):
            return f"{made.counters[name]} < {number}"
        case Not(of=of):
            return f"NOT {_operand(made, of)}"
        case And(of=parts):
            return " AND ".join(_operand(made, part) for part in parts)
        case Or(of=parts):
            return " OR ".join(_operand(made, part) for part in parts)


def _operand(made: Plan, condition: Condition) -> str:
    text = expression(made, condition)
    compared = isinstance(condition, Counted) or (isinstance(condition, Not) and isinstance(condition.of, Counted))
    simple = not isinstance(condition, And | Or | Not) or text.count(" ") <= 1
    return text if simple and not compared and not text.startswith("NOT NOT") else f"({text})"
