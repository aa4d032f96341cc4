"""Print a Chart as a sequential function chart in its textual form (IEC 61131-3)."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from compiler.chart import Chart
from compiler.condition import Sustained
from compiler.machine import Machine
from grammar.structured_text.parse import MOST_CHARACTERS
from targets.controller.comment import comment
from targets.controller.declarations import block_name, blocks, interlocks, load, meaning, wiring
from targets.controller.page import WIDTH, Line, Marks, unmarked, wrapped
from targets.controller.refuse import reason_against
from targets.sfc.net import Net, Unfit, net
from targets.sfc.page import Action, Page, Part
from targets.sfc.parts import parts
from targets.sfc.plan import Layout, condition_text, done, layout
from targets.slug import slug
from targets.target import CAUTION, Artefact, Refusal

__all__ = ["emit"]

_NAME = "SFC"


def emit(machine: Machine, chart: Chart) -> Artefact | Refusal:
    """The SFC of a chart, or why there is none."""
    reason = reason_against(chart)
    if reason:
        return Refusal("sfc", _NAME, reason)
    try:
        made = net(chart)
    except Unfit as unfit:
        return Refusal("sfc", _NAME, str(unfit))
    laid, marks = layout(machine, made), Marks()
    text, lines = unmarked(_template().render(page=_page(machine, made, laid, marks)), marks)
    if len(text) > MOST_CHARACTERS:
        return Refusal("sfc", _NAME, f"it has {len(text)} characters, and up to {MOST_CHARACTERS} are read back")
    ways = [way for _, part in made.parts for way in part]
    counted = (("steps", len(made.chart.steps)), ("transitions", len(ways)))
    return Artefact(
        "sfc",
        _NAME,
        f"{slug(machine.title)}.sfc",
        text,
        implementation=True,
        parts=tuple((what, count) for what, count in counted if count),
        lines=lines,
    )


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("targets.sfc"), undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=False,  # plain text
    )  # fmt: skip
    return environment.get_template("function_block.sfc.j2")


def _page(machine: Machine, made: Net, laid: Layout, marks: Marks) -> Page:
    title = machine.title or made.chart.title
    wires = laid.made.wires
    actions = tuple(_actions(machine, laid, marks))
    running = "".join(f"{one.name}(N); " for one in actions if one.name in (laid.inputs, laid.outputs))
    return Page(
        title=comment(title or "sequence"),
        caution=tuple(textwrap.wrap(CAUTION, WIDTH - 6)),
        block=block_name(title),
        inputs=tuple(Line(f"{wires[i.name]} : BOOL;", wiring(i)) for i in machine.inputs),
        outputs=tuple(Line(f"{wires[o.name]} : BOOL;", comment(f"{o.kind} {o.name}")) for o in machine.loads),
        variables=tuple(_variables(machine, laid)),
        always=f"INITIAL_STEP {laid.always}: {running}END_STEP",
        parts=tuple(Part(heading, lines) for heading, lines in parts(made, laid, marks)),
        actions=actions,
    )


def _variables(machine: Machine, laid: Layout) -> Iterator[Line]:
    made = laid.made
    if made.edges:
        yield Line("FirstScan : BOOL := TRUE;", "what is actuated already as power comes on has no edge")
    yield from (Line(f"{made.actuated[i.name]} : BOOL;") for i in machine.inputs)
    for name in made.edges:
        yield Line(f"{made.wires[name]}_trig : R_TRIG;")
        yield Line(f"{made.wires[name]}_rose : BOOL;")
    yield from (Line(f"{name} : TON;") for part, name in made.timers.items() if isinstance(part, Sustained))
    yield from (Line(f"{made.wires[name]}_stored : BOOL;") for name in made.stored)
    yield from (Line(f"{name} : INT;", comment(f"counter {counter}")) for counter, name in made.counters.items())
    yield from (Line(f"{name} : BOOL;") for name in made.commanded.values())
    yield from (Line(f"{name} : BOOL;") for name in (laid.stop, laid.stopped) if name)


def _actions(machine: Machine, laid: Layout, marks: Marks) -> Iterator[Action]:
    made = laid.made
    for step in made.chart.steps:
        for names, on_entry, when in ((laid.begins, True, "becomes active"), (laid.ends, False, "is left")):
            if step.name in names:
                lines = tuple(Line(text) for text in done(made, step, on_entry=on_entry))
                yield Action(names[step.name], f"once, as {laid.steps[step.name]} {when}", lines)
    yield Action(laid.inputs, "what the wires mean, edges and times", tuple(_inputs(machine, laid, marks)))
    outputs = tuple(_outputs(laid, marks))
    if outputs:
        yield Action(laid.outputs, "what the steps do not drive themselves", outputs)


def _inputs(machine: Machine, laid: Layout, marks: Marks) -> Iterator[Line]:
    made = laid.made
    yield from (meaning(made, device) for device in machine.inputs)
    yield from blocks(made, steps=False)
    forcing = made.chart.forcing
    if forcing is not None:
        text = condition_text(laid, forcing.condition)
        yield Line(wrapped(f"{laid.stop} := {text};", 4), comment(forcing.words.text), marks.mark(forcing.words))
    if made.edges:
        yield Line("FirstScan := FALSE;")


def _outputs(laid: Layout, marks: Marks) -> Iterator[Line]:
    made = laid.made
    if laid.stopped:
        off = " ".join(f"{made.wires[output]}_stored := FALSE;" for output in made.stored)
        yield Line(wrapped(f"IF {laid.stop} OR {laid.stopped} THEN {off} END_IF;", 4), "nothing stays on")
        yield Line(f"{laid.stopped} := {laid.stop};")
    yield from (load(made, output) for output in made.chart.outputs if output not in laid.direct)
    yield from interlocks(made, marks)
