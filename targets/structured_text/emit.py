"""Print a Chart as one third-edition function block (IEC 61131-3:2013)."""

from __future__ import annotations

import textwrap
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from compiler.chart import Chart
from compiler.machine import Machine
from targets.controller.comment import comment
from targets.controller.declarations import (
    block_name,
    blocks,
    interlocks,
    load,
    meaning,
    variables,
    wiring,
)
from targets.controller.page import WIDTH, Line, Marks, unmarked
from targets.controller.plan import Plan, plan
from targets.controller.refuse import reason_against
from targets.slug import slug
from targets.structured_text.flags import flags
from targets.structured_text.numbered import numbered
from targets.structured_text.one_line import is_one_line
from targets.structured_text.page import Page
from targets.target import CAUTION, Artefact, Refusal

__all__ = ["emit"]

_NAME = "structured text"


def emit(machine: Machine, chart: Chart) -> Artefact | Refusal:
    """The function block of a chart, or why there is none."""
    reason = reason_against(chart)
    if reason:
        return Refusal("structured-text", _NAME, reason)
    made = plan(machine, chart, flags=not is_one_line(chart))
    marks = Marks()
    page = _page(machine, made, marks)
    text, lines = unmarked(_template().render(page=page), marks)
    counted = (("inputs", len(machine.inputs)), ("outputs", len(machine.loads)), ("timer blocks", len(made.timers)))
    return Artefact(
        "structured-text",
        _NAME,
        f"{slug(machine.title)}.st",
        text,
        implementation=True,
        parts=tuple((what, count) for what, count in counted if count),
        lines=lines,
    )


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("targets.structured_text"), undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, keep_trailing_newline=True,
        autoescape=False,  # plain text
    )  # fmt: skip
    return environment.get_template("function_block.st.j2")


def _page(machine: Machine, made: Plan, marks: Marks) -> Page:
    title = machine.title or made.chart.title
    sequence = numbered(made, marks) if made.numbers else flags(made, marks)
    return Page(
        title=comment(title or "sequence"),
        caution=tuple(textwrap.wrap(CAUTION, WIDTH - 6)),
        block=block_name(title),
        inputs=tuple(Line(f"{made.wires[i.name]} : BOOL;", wiring(i)) for i in machine.inputs),
        outputs=tuple(Line(f"{made.wires[o.name]} : BOOL;", comment(f"{o.kind} {o.name}")) for o in machine.loads),
        variables=tuple(variables(machine, made)),
        wires=tuple(meaning(made, i) for i in machine.inputs),
        blocks=tuple(blocks(made)),
        sequence=sequence,
        section=sequence.sections + 1,
        loads=tuple(load(made, o.name) for o in machine.loads),
        interlocks=tuple(interlocks(made, marks)),
        edges=bool(made.edges),
    )
