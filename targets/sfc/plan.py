"""Names for everything an SFC is made of, and which outputs its steps drive themselves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from compiler.chart import ActionKind, Step
from compiler.condition import Always, Condition, Elapsed
from compiler.machine import Machine
from grammar.structured_text.literals import duration_text
from grammar.structured_text.reserved import is_keyword
from targets.controller.names import is_plain
from targets.controller.plan import STORED, Names, Plan, counts, expression, plan
from targets.sfc.net import Net

__all__ = ["Layout", "condition_text", "done", "layout"]


@dataclass(frozen=True)
class Layout:
    """``made`` is the plan with the flags of steps in it. ``steps`` and ``transitions`` are names in the text;
    ``begins`` and ``ends`` the actions of what steps do once; ``direct`` the outputs that steps drive themselves.
    ``stop`` is true while the chart is forced, ``stopped`` that it was in the scan before, empty where neither is
    needed."""

    made: Plan
    steps: Mapping[str, str]
    transitions: Mapping[str, str]
    begins: Mapping[str, str]
    ends: Mapping[str, str]
    direct: frozenset[str]
    always: str
    inputs: str
    outputs: str
    stop: str
    stopped: str


def layout(machine: Machine, net: Net) -> Layout:
    """The layout of an SFC."""
    chart = net.chart
    made = plan(machine, chart, flags=False)
    names = Names(_taken(made))
    steps = {step.name: names.plain(step.name, "step", fit=_fits) for step in chart.steps}
    transitions = {t.name: names.plain(t.name, "transition", fit=_fits) for t in chart.transitions}
    made = replace(made, numbers={}, active={step: f"{name}.X" for step, name in steps.items()})
    always, inputs, outputs = (names.plain(word, "part", fit=_fits) for word in ("Always", "Inputs", "Outputs"))
    return Layout(
        made,
        steps,
        transitions,
        {s.name: names.new(steps[s.name], "begins") for s in chart.steps if any(done(made, s, on_entry=True))},
        {s.name: names.new(steps[s.name], "ends") for s in chart.steps if any(done(made, s, on_entry=False))},
        frozenset(output for output in chart.outputs if _is_direct(made, output)),
        always,
        inputs,
        outputs,
        names.new("Stop", "called") if chart.forcing else "",
        names.new("Stop", "called_before") if chart.forcing and made.stored else "",
    )


def _fits(name: str) -> bool:
    return is_plain(name) and not is_keyword(name)


def _taken(made: Plan) -> Iterator[str]:
    yield from (*made.wires.values(), *made.actuated.values(), *made.timers.values())
    yield from (*made.counters.values(), *made.commanded.values(), "FirstScan")
    yield from (f"{name}_{ending}" for name in made.wires.values() for ending in ("stored", "trig", "rose"))


def _is_direct(made: Plan, output: str) -> bool:
    """Whether an output is on in some steps and off in the others, and nothing else is to be said of it."""
    actions = [action for step in made.chart.steps for action in step.actions if action.output == output]
    return bool(actions) and all(
        action.kind is ActionKind.CONTINUOUS and isinstance(action.condition, Always) for action in actions
    )


def done(made: Plan, step: Step, *, on_entry: bool) -> Iterator[str]:
    """What a step does once, as it becomes active or as it is left: stored outputs and counters."""
    for action in step.actions:
        if action.kind in STORED and STORED[action.kind][0] is on_entry:
            yield f"{made.wires[action.output]}_stored := {STORED[action.kind][1]};"
    if on_entry:
        yield from counts(made, step)


def condition_text(laid: Layout, condition: Condition, sources: Iterable[str] = ()) -> str:
    """A condition; ``sources`` are steps that are active wherever it counts."""
    sure = set(sources)
    over = {
        part: _since(laid, part, sure=part.step in sure) if isinstance(part, Elapsed) else text
        for part, text in laid.made.over.items()
    }
    text = expression(replace(laid.made, over=over), condition)
    return text[1:-1] if isinstance(condition, Elapsed) else text


def _since(laid: Layout, part: Elapsed, *, sure: bool) -> str:
    name = laid.steps[part.step]
    reached = f"{name}.T >= {duration_text(part.time_us)}"
    return f"({reached})" if sure else f"({name}.X AND ({reached}))"
