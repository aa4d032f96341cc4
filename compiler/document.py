"""Machine and Chart together as one JSON document, and its published schema."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from compiler.chart import Chart
from compiler.condition import Active, Condition, Counted, Elapsed, Rise, Signal, walk
from compiler.machine import Machine

__all__ = ["Document", "NotADocument", "read_document", "schema"]


class NotADocument(ValueError):
    """A text that is not a document, or one whose parts do not fit. Its text says why, in plain words."""


class Document(BaseModel):
    """What a chart file holds. Reading it back gives equal models: nothing is lost."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["rungwright chart 1"] = "rungwright chart 1"
    caution: str = ""
    machine: Machine
    chart: Chart

    def to_json(self) -> str:
        """The document as text, two-space indents, keys in the order of the models, newline at the end."""
        return self.model_dump_json(indent=2) + "\n"


def read_document(text: str) -> Document:
    """The document in a text. Raises NotADocument, which names the first key at fault."""
    try:
        document = Document.model_validate_json(text)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the whole text"
        raise NotADocument(f"not a chart document: {where} is missing or not as the schema has it") from None
    except RecursionError:
        raise NotADocument("not a chart document: it is nested too deeply") from None
    _check_names(document)
    return document


def schema() -> str:
    """The JSON schema of documents (JSON Schema 2020-12), as text."""
    return json.dumps(Document.model_json_schema(), indent=2) + "\n"


def _check_names(document: Document) -> None:
    chart, machine = document.chart, document.machine
    inputs, outputs = {i.name for i in machine.inputs}, {load.name for load in machine.loads}
    steps = {step.name for step in chart.steps}
    _known("chart.inputs", set(chart.inputs), inputs)
    _known("chart.outputs", set(chart.outputs), outputs)
    _known("an action", {a.output for s in chart.steps for a in s.actions}, set(chart.outputs))
    _known("counting", {c.counter for s in chart.steps for c in s.counting}, set(chart.counters))
    named = {name for t in chart.transitions for name in (*t.sources, *t.targets, *t.aborts)}
    _known("a transition", named, steps)
    _known("the forcing", set() if chart.forcing is None else set(chart.forcing.steps), steps)
    _known("an interlock", {i.output for i in chart.interlocks}, set(chart.outputs))
    locked = [i.only_while for i in chart.interlocks]
    _check_conditions("a condition", (c for c in chart.conditions if c not in locked), set(chart.inputs), chart)
    asked = [part for r in chart.requirements for c in r.conditions for part in walk(c)]
    if any(isinstance(part, Counted) for part in asked):
        raise NotADocument("not a chart document: a requirement asks for a counter, which only the chart can see")
    both = {*chart.inputs, *chart.outputs}
    _check_conditions("an interlock", locked, both, chart)
    _check_conditions("a requirement", (c for r in chart.requirements for c in r.conditions), both, chart)
    if len(steps) < len(chart.steps) or not any(step.initial for step in chart.steps):
        raise NotADocument("not a chart document: steps must have names of their own, and one must be initial")


def _check_conditions(where: str, conditions: Iterable[Condition], devices: set[str], chart: Chart) -> None:
    parts = [part for condition in conditions for part in walk(condition)]
    _known(where, {p.device for p in parts if isinstance(p, Signal | Rise)}, devices)
    _known(where, {p.step for p in parts if isinstance(p, Active | Elapsed)}, {step.name for step in chart.steps})
    _known(where, {p.counter for p in parts if isinstance(p, Counted)}, set(chart.counters))


def _known(where: str, names: set[str], known: set[str]) -> None:
    strange = sorted(names - known)
    if strange:
        raise NotADocument(f"not a chart document: {where} speaks of {strange[0]}, which is not declared")
