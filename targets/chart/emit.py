"""Print a Chart: a list of steps and transitions for people, and JSON for programs."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from compiler.chart import Chart, Step, Transition
from compiler.condition import Always, Rise, walk
from compiler.document import Document
from compiler.machine import Machine
from compiler.tell import condition_words, tell
from targets.slug import slug
from targets.target import CAUTION, Artefact

__all__ = ["emit"]


@dataclass(frozen=True, slots=True)
class _StepView:
    name: str
    mark: str
    on: str
    words: str
    exits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Page:
    title: str
    caution: tuple[str, ...]
    told: tuple[str, ...]
    steps: tuple[_StepView, ...]
    forcing: str


def emit(machine: Machine, chart: Chart) -> list[Artefact]:
    """The two artefacts of a chart."""
    stem = slug(machine.title)
    page = _Page(
        title=machine.title or "Sequence",
        caution=tuple(textwrap.wrap(CAUTION, 88)),
        told=tuple(tell(machine, chart)),
        steps=tuple(_step(machine, chart, step) for step in chart.steps),
        forcing=_forced(machine, chart),
    )
    counted = (("steps", len(chart.steps)), ("transitions", len(chart.transitions)))
    text = _template().render(page=page)
    document = Document(caution=CAUTION, machine=machine, chart=chart)
    return [
        Artefact("chart", "step list", f"{stem}.chart.txt", text, parts=counted),
        Artefact(
            "chart", "chart (JSON)", f"{stem}.chart.json", document.to_json(), implementation=True, parts=counted
        ),
    ]


def _forced(machine: Machine, chart: Chart) -> str:
    """What holds the chart in its initial step, or leads it elsewhere."""
    if chart.forcing is None:
        return "Nothing holds the chart in its initial step: there is no STOP."
    told = condition_words(chart.forcing.condition, machine)
    at_once = any(isinstance(part, Rise) for part in walk(chart.forcing.condition))
    steps = " and ".join(chart.forcing.steps) or "its initial step"
    where = f"goes to {steps}" if at_once else f"is held in {steps}"
    return f"{'When' if at_once else 'While'} {told}, the chart {where}, ahead of everything else."


@cache
def _template() -> Template:
    loader = PackageLoader("targets.chart")
    environment = Environment(
        loader=loader, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True,
        autoescape=False,  # plain text
    )  # fmt: skip
    return environment.get_template("steps.txt.j2")


def _step(machine: Machine, chart: Chart, step: Step) -> _StepView:
    exits = [t for t in chart.transitions if step.name in t.sources]
    mark = "initial step" if step.initial else f'fault "{step.fault}"' if step.fault else ""
    on = ", ".join(dict.fromkeys(action.output for action in step.actions))
    return _StepView(step.name, mark, on or "nothing", step.words.text, tuple(_exit(machine, t) for t in exits))


def _exit(machine: Machine, transition: Transition) -> str:
    targets = " and ".join(transition.targets)
    at_once = isinstance(transition.condition, Always)
    when = "at once" if at_once else f"when {condition_words(transition.condition, machine)}"
    return f"{transition.name}: {when}, go to {targets}"
