"""What every block begins and ends with: its variables, what the wires mean, edges and times, and the outputs."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from compiler.chart import CountingKind
from compiler.condition import Active, Condition, Elapsed, Sustained
from compiler.machine import Contact, Input, InputKind, Machine
from grammar.structured_text.literals import duration_text
from targets.controller.comment import comment
from targets.controller.page import Line, Marks, wrapped
from targets.controller.plan import Plan, expression, interlocked, output_condition, writes

__all__ = ["block_name", "blocks", "interlocks", "load", "meaning", "variables", "wiring"]


def block_name(title: str) -> str:
    """The name of the function block."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.sub(r"[^A-Za-z0-9]+", "_", plain)[:28].strip("_")
    return f"FB_{words or 'Sequence'}"


def wiring(device: Input) -> str:
    """What the wire of an input carries."""
    act = "pressed" if device.kind is InputKind.PUSHBUTTON else "actuated"
    live, dead = ("FALSE", "TRUE") if device.contact is Contact.NORMALLY_CLOSED else ("TRUE", "FALSE")
    return comment(f"{device.kind} {device.name}, wired {device.contact}: {dead} at rest, {live} when {act}")


def meaning(made: Plan, device: Input) -> Line:
    """The one place where the wiring of an input counts."""
    wire, actuated = made.wires[device.name], made.actuated[device.name]
    if device.contact is Contact.NORMALLY_CLOSED:
        return Line(f"{actuated} := NOT {wire};", "wired normally closed: TRUE at rest")
    return Line(f"{actuated} := {wire};")


def variables(machine: Machine, made: Plan) -> Iterator[Line]:
    """Everything under VAR."""
    initial = [step.name for step in made.chart.steps if step.initial]
    if made.numbers:
        yield Line(f"StepNo : INT := {made.numbers[initial[0]]};", "the step that is active, see the CASE below")
    if made.edges:
        yield Line("FirstScan : BOOL := TRUE;", "what is actuated already as power comes on has no edge")
    yield from (Line(f"{made.actuated[i.name]} : BOOL;") for i in machine.inputs)
    for name in made.edges:
        yield Line(f"{made.wires[name]}_trig : R_TRIG;")
        yield Line(f"{made.wires[name]}_rose : BOOL;")
    yield from (Line(f"{name} : TON;") for name in made.timers.values())
    yield from (Line(f"{name} : BOOL;") for name in (*made.clears.values(), *made.aborted.values()))
    if not made.numbers:
        yield from (Line(_flag(name, initial=step in initial)) for step, name in made.active.items())
    yield from (Line(f"{name} : BOOL;") for name in made.before.values())
    last = {line.split(" := ")[0]: line for line in writes(made, (), initial)}
    for name in made.stored:
        on = last.get(f"{made.wires[name]}_stored", "").endswith("TRUE;")
        yield Line(_flag(f"{made.wires[name]}_stored", initial=on))
    for counter, name in made.counters.items():
        yield Line(
            f"{name} : INT{' := 1' if _counted_at_start(made, counter) else ''};", comment(f"counter {counter}")
        )
    yield from (Line(f"{name} : BOOL;") for name in made.commanded.values())


def _flag(name: str, *, initial: bool) -> str:
    return f"{name} : BOOL{' := TRUE' if initial else ''};"


def _counted_at_start(made: Plan, counter: str) -> bool:
    """Whether the initial situation, entered as power comes on, counts already."""
    begun = (counting for step in made.chart.steps if step.initial for counting in step.counting)
    return any(c.counter == counter and c.kind is CountingKind.COUNT for c in begun)


def blocks(made: Plan, *, steps: bool = True) -> Iterator[Line]:
    """The calls of edge and time blocks; without those of times in ``steps`` where steps measure their own."""
    for name in made.edges:
        wire = made.wires[name]
        yield Line(f"{wire}_trig(CLK := {made.actuated[name]});")
        yield Line(f"{wire}_rose := {wire}_trig.Q AND NOT FirstScan;")
    for condition, name in made.timers.items():
        if steps or not isinstance(condition, Elapsed):
            yield Line(
                wrapped(f"{name}(IN := {_timed(made, condition)}, PT := {duration_text(_time(condition))});", 4)
            )


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


def load(made: Plan, output: str) -> Line:
    """The one place where an output is written, or what the steps call for where an interlock follows."""
    target = made.commanded.get(output, made.wires[output])
    return Line(wrapped(f"{target} := {expression(made, output_condition(made.chart, output))};", 4))


def interlocks(made: Plan, marks: Marks) -> Iterator[Line]:
    """The outputs that have interlocks, each written once."""
    for output in made.commanded:
        behind = [interlock.words for interlock in made.chart.interlocks if interlock.output == output]
        yield Line(
            wrapped(f"{made.wires[output]} := {interlocked(made, output)};", 4),
            comment("; ".join(dict.fromkeys(words.text for words in behind if words.text))),
            marks.mark(behind[0]),
        )
