"""Print a Chart as one third-edition function block (IEC 61131-3:2013)."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from compiler.chart import Chart, Step, Transition, Words
from compiler.condition import Active, Condition, Elapsed, Sustained
from compiler.machine import Contact, Input, InputKind, Machine
from grammar.structured_text.literals import duration_text
from targets.slug import slug
from targets.structured_text.comment import comment
from targets.structured_text.plan import Plan, expression, output_condition, plan, writes
from targets.structured_text.refuse import reason_against
from targets.target import CAUTION, Artefact, Refusal

__all__ = ["emit"]

_WIDTH = 110
_NAME = "structured text"
# Marks a line with the words it came from while the text is laid out; no comment or name can hold it.
_MARK = re.compile("\0(\\d+)\0")


@dataclass(frozen=True, slots=True)
class _Line:
    """One statement or declaration with its comment and the mark of the words behind it."""

    text: str
    comment: str = ""
    mark: str = ""


@dataclass(frozen=True, slots=True)
class _Exit:
    word: str
    condition: str
    statements: tuple[str, ...]
    comment: str
    mark: str


@dataclass(frozen=True, slots=True)
class _Branch:
    number: int
    comment: str
    mark: str
    exits: tuple[_Exit, ...]


@dataclass(frozen=True, slots=True)
class _Page:
    title: str
    caution: tuple[str, ...]
    block: str
    inputs: tuple[_Line, ...]
    outputs: tuple[_Line, ...]
    variables: tuple[_Line, ...]
    wires: tuple[_Line, ...]
    blocks: tuple[_Line, ...]
    forcing: _Exit | None
    inset: int
    branches: tuple[_Branch, ...]
    loads: tuple[_Line, ...]
    edges: bool


class _Marks:
    """The words of each mark given out."""

    def __init__(self) -> None:
        self.words: list[str] = []

    def mark(self, words: Words) -> str:
        if not words.text:
            return ""
        self.words.append(words.text)
        return f"\0{len(self.words) - 1}\0"


def emit(machine: Machine, chart: Chart) -> Artefact | Refusal:
    """The function block of a chart, or why there is none."""
    reason = reason_against(chart)
    if reason:
        return Refusal("structured-text", _NAME, reason)
    made = plan(machine, chart)
    marks = _Marks()
    page = _page(machine, chart, made, marks)
    text, lines = _unmarked(_template().render(page=page), marks)
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


def _unmarked(text: str, marks: _Marks) -> tuple[str, dict[int, str]]:
    lines: dict[int, str] = {}
    for number, line in enumerate(text.split("\n"), 1):
        found = _MARK.search(line)
        if found:
            lines[number] = marks.words[int(found[1])]
    return _MARK.sub("", text), lines


def _page(machine: Machine, chart: Chart, made: Plan, marks: _Marks) -> _Page:
    initial = next(step for step in chart.steps if step.initial)
    forcing = chart.forcing
    return _Page(
        title=comment(machine.title or chart.title or "sequence"),
        caution=tuple(textwrap.wrap(CAUTION, _WIDTH - 6)),
        block=_block_name(machine.title or chart.title),
        inputs=tuple(_Line(f"{made.wires[i.name]} : BOOL;", _wiring(i)) for i in machine.inputs),
        outputs=tuple(_Line(f"{made.wires[o.name]} : BOOL;", comment(f"{o.kind} {o.name}")) for o in machine.loads),
        variables=tuple(_variables(machine, made, made.numbers[initial.name])),
        wires=tuple(_meaning(made, i) for i in machine.inputs),
        blocks=tuple(_blocks(made)),
        forcing=None
        if forcing is None
        else _Exit(
            "IF",
            expression(made, forcing.condition),
            (f"StepNo := {made.numbers[initial.name]};", *(f"{made.wires[o]}_stored := FALSE;" for o in made.stored)),
            comment(forcing.words.text),
            marks.mark(forcing.words),
        ),
        inset=0 if forcing is None else 4,
        branches=tuple(_branch(chart, made, step, marks) for step in chart.steps),
        loads=tuple(_load(chart, made, o.name) for o in machine.loads),
        edges=bool(made.edges),
    )


def _block_name(title: str) -> str:
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.sub(r"[^A-Za-z0-9]+", "_", plain)[:28].strip("_")
    return f"FB_{words or 'Sequence'}"


def _wiring(device: Input) -> str:
    """What the wire of an input carries."""
    act = "pressed" if device.kind is InputKind.PUSHBUTTON else "actuated"
    live, dead = ("FALSE", "TRUE") if device.contact is Contact.NORMALLY_CLOSED else ("TRUE", "FALSE")
    return comment(f"{device.kind} {device.name}, wired {device.contact}: {dead} at rest, {live} when {act}")


def _meaning(made: Plan, device: Input) -> _Line:
    wire, actuated = made.wires[device.name], made.actuated[device.name]
    if device.contact is Contact.NORMALLY_CLOSED:
        return _Line(f"{actuated} := NOT {wire};", "wired normally closed: TRUE at rest")
    return _Line(f"{actuated} := {wire};")


def _variables(machine: Machine, made: Plan, initial: int) -> Iterator[_Line]:
    yield _Line(f"StepNo : INT := {initial};", "the step that is active, see the CASE below")
    if made.edges:
        yield _Line("FirstScan : BOOL := TRUE;", "what is actuated already as power comes on has no edge")
    yield from (_Line(f"{made.actuated[i.name]} : BOOL;") for i in machine.inputs)
    for name in made.edges:
        yield _Line(f"{made.wires[name]}_trig : R_TRIG;")
        yield _Line(f"{made.wires[name]}_rose : BOOL;")
    yield from (_Line(f"{name} : TON;") for name in made.timers.values())
    for name in made.stored:
        yield _Line(f"{made.wires[name]}_stored : BOOL{_stored_at_start(made, name)};")


def _stored_at_start(made: Plan, output: str) -> str:
    """The initial value where entering the initial step, at power-up, writes an output."""
    start = next(step for step in made.chart.steps if step.initial)
    last = [line for line in writes(made, None, start) if line.startswith(f"{made.wires[output]}_stored :=")]
    return " := TRUE" if last and last[-1].endswith("TRUE;") else ""


def _blocks(made: Plan) -> Iterator[_Line]:
    for name in made.edges:
        wire = made.wires[name]
        yield _Line(f"{wire}_trig(CLK := {made.actuated[name]});")
        yield _Line(f"{wire}_rose := {wire}_trig.Q AND NOT FirstScan;")
    for condition, name in made.timers.items():
        yield _Line(_wrapped(f"{name}(IN := {_timed(made, condition)}, PT := {duration_text(_time(condition))});", 4))


def _timed(made: Plan, condition: Condition) -> str:
    match condition:
        case Elapsed(step=step):
            return expression(made, Active(step=step))
        case Sustained(of=of):
            return expression(made, of)
        case _:
            raise AssertionError(condition)  # only times have timers


def _time(condition: Condition) -> int:
    assert isinstance(condition, Elapsed | Sustained)
    return condition.time_us


def _branch(chart: Chart, made: Plan, step: Step, marks: _Marks) -> _Branch:
    leaving = [t for t in chart.transitions if t.sources[0] == step.name]
    what = f'fault "{step.fault}"' if step.fault else step.words.text or ("at rest" if step.initial else "")
    return _Branch(
        made.numbers[step.name],
        comment(f"{step.name}: {what}" if what else step.name),
        marks.mark(step.words),
        tuple(_exit(chart, made, step, t, "ELSIF" if k else "IF", marks) for k, t in enumerate(leaving)),
    )


def _exit(chart: Chart, made: Plan, step: Step, transition: Transition, word: str, marks: _Marks) -> _Exit:
    target = chart.step(transition.targets[0])
    return _Exit(
        word,
        _wrapped(expression(made, transition.condition), 20),
        (f"StepNo := {made.numbers[target.name]};", *writes(made, step, target)),
        comment(f"{transition.name}: {transition.words.text}" if transition.words.text else transition.name),
        marks.mark(transition.words),
    )


def _load(chart: Chart, made: Plan, output: str) -> _Line:
    return _Line(_wrapped(f"{made.wires[output]} := {expression(made, output_condition(chart, output))};", 4))


def _wrapped(text: str, indent: int) -> str:
    lines = textwrap.wrap(text, _WIDTH - indent, break_long_words=False, break_on_hyphens=False)
    return f"\n{' ' * (indent + 4)}".join(lines)
