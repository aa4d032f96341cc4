"""One round of a chart written out as Python text: the five evolution rules over a variable for each step.

It says the same as ``compiler.chart_logic`` in another way, so that it can be read as functions; the tests hold the
two together. ``s`` are the parts of the state in the order of ``parts_of``, ``i`` the inputs, ``e`` whether each
timer has run out; ``first`` says that this is the first round of a reaction, the only one that sees edges.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from typing import cast

from compiler.chart import Action, ActionKind, CountingKind, Step, Transition
from compiler.chart_logic import ChartLogic
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
    walk,
)

__all__ = ["ChartText"]

_State = tuple[int, int, tuple[bool, ...], tuple[int, ...], tuple[int, ...]]
"""What ChartLogic says of its state: the active steps and the stored outputs as bits, edges, phases, counts."""

_WRITES = {
    ActionKind.SET_ON_ENTRY: (True, True),
    ActionKind.RESET_ON_ENTRY: (True, False),
    ActionKind.SET_ON_EXIT: (False, True),
    ActionKind.RESET_ON_EXIT: (False, False),
}


class ChartText:
    """A chart as text. ``x`` are its steps, ``q`` its outputs as stored, ``d`` its inputs as last seen where an edge
    matters, ``t`` the phases of its timers, ``n`` its counters: these are the parts, in this order."""

    def __init__(self, logic: ChartLogic) -> None:
        chart = self.chart = logic.chart
        self.steps = {step.name: k for k, step in enumerate(chart.steps)}
        self.inputs = {name: k for k, name in enumerate(chart.inputs)}
        self.outputs = {name: k for k, name in enumerate(chart.outputs)}
        self.counters = {name: k for k, name in enumerate(chart.counters)}
        parts = [part for c in chart.conditions for part in walk(c)]
        self.edges = {name: k for k, name in enumerate(dict.fromkeys(p.device for p in parts if isinstance(p, Rise)))}
        self.timed = {
            part: k for k, part in enumerate(dict.fromkeys(p for p in parts if isinstance(p, Elapsed | Sustained)))
        }
        self.most = [
            max((p.at_least for p in parts if isinstance(p, Counted) and p.counter == name), default=0)
            for name in chart.counters
        ]
        self.names = [
            f"{letter}{k}"
            for letter, count in (
                ("x", len(self.steps)),
                ("q", len(self.outputs)),
                ("d", len(self.edges)),
                ("t", len(self.timed)),
                ("n", len(self.counters)),
            )
            for k in range(count)
        ]
        self.first_timer = self.names.index("t0") if self.timed else 0

    def parts_of(self, state: Hashable) -> tuple[int, ...]:
        """The parts of a state of the chart's Logic."""
        active, stored, edges, phases, counts = cast(_State, state)
        steps = tuple(bool(active >> k & 1) for k in range(len(self.steps)))
        kept = tuple(bool(stored >> k & 1) for k in range(len(self.outputs)))
        return (*steps, *kept, *edges, *(int(phase) for phase in phases), *counts)

    # --- the text -------------------------------------------------------------------------------------------

    def round(self) -> str:
        """``look``: the parts after one round, the outputs, and whether nothing more is to change."""
        return "\n".join(
            [
                "def look(s, i, e, first):",
                *(f"    {line}" for line in self._opening()),
                *(f"    {line}" for line in self._sustained()),
                *(f"    {line}" for line in self._evolution()),
                *(f"    {line}" for line in self._shown()),
                *(f"    {line}" for line in self._entering()),
                *(f"    q{k} = q{k} and not f" for k in self.outputs.values()),
                f"    return {_tuple(name.replace('x', 'y') for name in self.names)}, {self._loads()}, z",
            ]
        )

    def beginning(self) -> str:
        """``begin``: the parts as power comes on, before anything has cleared; an input that is actuated already has
        no edge."""
        initial = {step.name for step in self.chart.steps if step.initial}
        parts = {name: "False" if name[0] in "xqd" else "0" for name in self.names}
        return "\n".join(
            [
                "def begin(i):",
                *(f"    {line}" for line in [_taken(f"a{k}" for k in range(len(self.inputs))).format("i")]),
                *(f"    {name} = {value}" for name, value in parts.items()),
                *(f"    d{k} = a{self.inputs[name]}" for name, k in self.edges.items()),
                *(f"    y{k} = {name in initial}" for name, k in self.steps.items()),
                *(f"    {line}" for line in self._entering()),
                f"    return {_tuple(name.replace('x', 'y') for name in self.names)}, ()",
            ]
        )

    def _opening(self) -> Iterator[str]:
        yield _taken(self.names).format("s")
        yield _taken(f"a{k}" for k in range(len(self.inputs))).format("i")
        yield _taken(f"e{k}" for k in range(len(self.timed))).format("e")
        for name, k in self.edges.items():
            yield f"r{k} = first and a{self.inputs[name]} and not d{k}"
            yield f"d{k} = a{self.inputs[name]}"
        for condition, k in self.timed.items():
            if isinstance(condition, Elapsed):
                yield f"if e{k} and t{k} == 1: t{k} = 3"

    def _sustained(self) -> Iterator[str]:
        """Sustained conditions are on-delays; all look at what was there before any of them moved."""
        sustained = [(condition, k) for condition, k in self.timed.items() if isinstance(condition, Sustained)]
        for condition, k in sustained:
            yield f"m{k} = {self.when(condition.of)}"
        for _, k in sustained:
            yield f"t{k} = T0[t{k} * 4 + m{k} * 2 + e{k}]"
            yield f"if t{k} & 1: started.add({k})"
            yield f"t{k} >>= 1"

    def _shown(self) -> Iterator[str]:
        """The outputs, of use only where nothing more is to change."""
        for name, k in self.outputs.items():
            held = [
                f"(x{self.steps[step.name]} and {self.when(action.condition)})"
                for step, action in self._actions()
                if action.output == name and action.kind is ActionKind.CONTINUOUS
            ]
            yield f"o{k} = {' or '.join([f'q{k}', *held])}"

    def _loads(self) -> str:
        """The outputs after the interlocks, which all look at what the steps command."""
        allowed = {name: [f"o{k}"] for name, k in self.outputs.items()}
        for interlock in self.chart.interlocks:
            allowed[interlock.output].append(self.when(interlock.only_while, "o"))
        return _tuple(f"({' and '.join(parts)})" for parts in allowed.values())

    def _actions(self) -> Iterator[tuple[Step, Action]]:
        return ((step, action) for step in self.chart.steps for action in step.actions)

    def _evolution(self) -> Iterator[str]:
        """``y``: the steps after the round. ``z``: whether it was the last."""
        forcing = self.chart.forcing
        forced = "False" if forcing is None else self.when(forcing.condition, "r")
        yield f"f = {forced}"
        yield "if not f:"
        yield from (f"    {line}" for line in self._clearing())
        held = set((forcing.steps if forcing else ()) or (step.name for step in self.chart.steps if step.initial))
        same = [f"x{k}" if name in held else f"not x{k}" for name, k in self.steps.items()]
        yield "else:"
        yield f"    z = not first and {' and '.join([*same, *(f'not q{k}' for k in self.outputs.values())])}"
        yield from (f"    y{k} = {name in held}" for name, k in self.steps.items())

    def _clearing(self) -> Iterator[str]:
        transitions = self.chart.transitions
        for j, t in enumerate(transitions):
            parts = [*(f"x{self.steps[s]}" for s in t.sources), self.when(t.condition, "r")]
            yield f"g{j} = {' and '.join(parts)}"
        if any(t.aborts for t in transitions):
            yield from self._aborting(transitions)
        yield f"z = not ({' or '.join(['False', *(f'g{j}' for j in range(len(transitions)))])})"
        for name, k in self.steps.items():
            come = [f"g{j}" for j, t in enumerate(transitions) if name in t.targets]
            gone = [f"g{j}" for j, t in enumerate(transitions) if name in (*t.sources, *t.aborts)]
            stays = f"x{k} and not ({' or '.join(gone)})" if gone else f"x{k}"
            yield f"y{k} = {' or '.join([*come, stays])}"

    def _aborting(self, transitions: tuple[Transition, ...]) -> Iterator[str]:
        """What is aborted, in the order written, and then what clears all the same."""
        for k in self.steps.values():
            yield f"b{k} = False"
        for j, t in enumerate(transitions):
            lost = " or ".join(f"b{self.steps[s]}" for s in t.sources)
            for s in dict.fromkeys(t.aborts):
                if s == t.aborts[0]:
                    yield f"h = g{j} and not ({lost})"
                if s not in t.sources:
                    yield f"b{self.steps[s]} = b{self.steps[s]} or h"
        for j, t in enumerate(transitions):
            yield f"g{j} = g{j} and not ({' or '.join(f'b{self.steps[s]}' for s in t.sources)})"

    def _entering(self) -> Iterator[str]:
        """What steps that come on or go off do: times, stored actions, counters."""
        for condition, k in self.timed.items():
            if isinstance(condition, Elapsed):
                s = self.steps[condition.step]
                yield f"if y{s} and not x{s}:"
                yield f"    t{k} = 1"
                yield f"    started.add({k})"
                yield f"elif x{s} and not y{s}: t{k} = 0"
        for step, action in self._actions():
            if action.kind in _WRITES:
                on_entry, value = _WRITES[action.kind]
                s = self.steps[step.name]
                moved = f"y{s} and not x{s}" if on_entry else f"x{s} and not y{s}"
                k = self.outputs[action.output]
                yield f"q{k} = q{k} or ({moved})" if value else f"q{k} = q{k} and not ({moved})"
        for name, k in self.counters.items():
            counted = f"n{k} + 1 if n{k} < {self.most[k]} else n{k}"
            for kind, after in ((CountingKind.CLEAR, "0"), (CountingKind.COUNT, counted)):
                come = [f"(y{s} and not x{s})" for s in self._counting(name, kind)]
                if come:
                    yield f"if {' or '.join(come)}: n{k} = {after}"

    def _counting(self, counter: str, kind: CountingKind) -> list[int]:
        return [
            self.steps[step.name]
            for step in self.chart.steps
            for counting in step.counting
            if (counting.counter, counting.kind) == (counter, kind)
        ]

    # --- conditions -----------------------------------------------------------------------------------------

    def when(self, condition: Condition, sees: str = "") -> str:
        """A condition as an expression. It sees edges, ``r``, or outputs, ``o``, only where told so."""
        match condition:
            case Always():
                return "True"
            case Signal(device=name) if name not in self.inputs:
                return f"o{self.outputs[name]}" if "o" in sees else "False"
            case Signal(device=name):
                return f"a{self.inputs[name]}"
            case Rise(device=name):
                return f"r{self.edges[name]}" if "r" in sees else "False"
            case Active(step=name):
                return f"x{self.steps[name]}"
            case Elapsed() | Sustained():
                return f"(t{self.timed[condition]} == 3)"
            case Counted(counter=name, at_least=number):
                return f"(n{self.counters[name]} >= {number})"
            case Not(of=part):
                return f"(not {self.when(part, sees)})"
            case And(of=parts):
                return f"({' and '.join(self.when(part, sees) for part in parts)})"
            case Or(of=parts):
                return f"({' or '.join(self.when(part, sees) for part in parts)})"


def _tuple(names: Iterable[str]) -> str:
    return f"({''.join(f'{name}, ' for name in names)})"


def _taken(names: Iterable[str]) -> str:
    """A line that takes a tuple apart, its name still to be filled in."""
    found = _tuple(names)
    return f"{found} = {{}}" if found != "()" else "pass"
