"""A place for every step, transition and link of a nested chart, without a crossing.

The main line runs straight down. Ways of a choice and branches of parallel work stand side by side, each as wide as
what is in it; the way back of a loop goes up on the left, one gutter further out for each loop around it; the way to
a fault leaves to the right.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import ceil

from compiler.chart import Action, ActionKind, Chart, CountingKind, Step, Transition
from compiler.machine import Machine
from compiler.tell import condition_words
from targets.drawing.figure import Box, Figure, Item, Line, Text, Up, joined, text_block, text_width
from targets.grafcet.signals import Signals, signals
from targets.grafcet.structure import Aside, Bar, Choice, Jump, Loop, Parallel, Part, StepPart

__all__ = ["Drawer"]

STEP = 40  # side of a step
BAR = 11  # half of a transition's bar
ROW = 24  # height of one action
LEAD = 10  # from a step to the line of a choice
GAP = 28  # between things side by side
_ACTIONS = 300  # how wide a row of actions may be
_WAY = 60  # height of a way on from a fault
_STORED = {
    ActionKind.SET_ON_ENTRY: "↑ {} := 1",
    ActionKind.RESET_ON_ENTRY: "↑ {} := 0",
    ActionKind.SET_ON_EXIT: "↓ {} := 1",
    ActionKind.RESET_ON_EXIT: "↓ {} := 0",
}


@dataclass(frozen=True)
class Drawer:
    """Draws the parts of one chart. It has no slots, to keep what it has found out."""

    machine: Machine
    chart: Chart

    @cached_property
    def signals(self) -> Signals:
        """What its stations tell each other."""
        return signals(self.chart, self.machine)

    @cached_property
    def width(self) -> float:
        """How wide its steps are: all of them alike."""
        return max([STEP, *(text_width(step.name, size=13) + 14 for step in self.chart.steps)])

    def series(self, parts: Sequence[Part], *, entered: bool = True) -> Figure:
        """Parts one under the other, with the ways to faults at their right. Not ``entered``: nothing leads to it."""
        placed: list[tuple[Figure, float, float]] = []
        asides: list[tuple[Aside, float]] = []
        y = free = 0.0  # free: from where on nothing of a way to a fault stands
        for part in parts:
            figure = self.loop(part, entered=entered or y > 0) if isinstance(part, Loop) else self.part(part)
            placed.append((figure, 0, y))
            y += figure.height
            if isinstance(part, StepPart):
                for aside in part.asides:
                    at = max(y + 10, free + self.above(aside))
                    asides.append((aside, at))
                    free = at + _below(aside)
                    placed.append((Figure((Line(0, 0, 0, at + 20 - y),), 0, 0, at + 20 - y), 0, y))
                    y = at + 20
        bottom = y
        clear = max((_right_of(placed, at - self.above(one), at + _below(one)) for one, at in asides), default=0.0)
        wide = max((self._reason(aside)[1] for aside, _ in asides), default=0.0)
        for aside, at in asides:
            figure = self.aside(aside, clear, wide)
            placed.append((figure, 0, at))
            bottom = max(bottom, at + figure.height)
        tail = (Line(0, y, 0, bottom),) if bottom > y and _goes_on(parts) else ()
        return joined(placed, bottom, *tail)

    def part(self, part: Part) -> Figure:
        """One part."""
        match part:
            case StepPart(step=step):
                return self.step(step)
            case Bar(transition=transition):
                return self.bar(transition)
            case Jump(to=to):
                names = ", ".join(to)
                return joined((), 48, Line(0, 0, 0, 18), Up(0, 20, "down"), Text(0, 34, names, "reference", "middle"))
            case Choice():
                return self.choice(part)
            case Parallel():
                return self.parallel(part)
            case Loop():
                return self.loop(part)

    def step(self, step: Step) -> Figure:
        """A step, its actions, and the words it came from."""
        width = self.width
        frame: list[Item] = [Box(-width / 2, 0, width, STEP, "fault" if step.fault else "step")]
        if step.initial:
            frame.append(Box(-width / 2 + 4, 4, width - 8, STEP - 8, "inner"))
        frame.append(Text(0, STEP / 2 + 5, step.name, "name", "middle"))
        boxes, reach, height = _boxes(self.actions(step), width / 2 + 16)
        if boxes:
            frame += [Line(width / 2, STEP / 2, width / 2 + 16, STEP / 2), *boxes]
        x = reach if boxes else width / 2
        words = step.fault or step.words.text.split(", within ")[0]
        if words:
            block, _, tall = _block(f"“{words}”", x + 10, max(STEP / 2, 0), "words", letters=36, lines=4)
            shift = max(0.0, tall / 2 - STEP / 2)
            frame += [text.moved(0, shift) for text in block]
            height = max(height, tall)
        if height > STEP:
            frame.append(Line(0, STEP, 0, height))
        return joined((), height, *frame)

    def actions(self, step: Step) -> list[str]:
        """What is written in the action boxes."""
        counted = {CountingKind.CLEAR: "↑ {0} := 0", CountingKind.COUNT: "↑ {0} := {0} + 1"}
        rows = [self._action(action) for action in step.actions] + [*self.signals.on.get(step.name, ())]
        return rows + [counted[c.kind].format(c.counter) for c in step.counting]

    def _action(self, action: Action) -> str:
        if action.kind in _STORED:
            return _STORED[action.kind].format(action.output)
        words = condition_words(action.condition, self.machine)
        return action.output if words == "at once" else f"{action.output}  if {words}"

    def bar(self, transition: Transition) -> Figure:
        """A transition with its condition at its right."""
        block, _, tall = _block(self.condition(transition), BAR + 9, 0, "condition", letters=38, lines=40)
        height = max(46.0, tall + 18)
        middle = height / 2
        texts = [text.moved(0, middle) for text in block]
        return joined((), height, Line(0, 0, 0, height), Line(-BAR, middle, BAR, middle, "bar"), *texts)

    def condition(self, transition: Transition) -> str:
        """The words of a condition, and what it breaks off."""
        words = self.signals.words(transition.condition, self.machine)
        said = "1 (at once)" if words == "at once" else words
        return f"{said}, breaks off {', '.join(transition.aborts)}" if transition.aborts else said

    def choice(self, choice: Choice) -> Figure:
        """Ways side by side, off the steps above and below them; the first goes straight down."""
        figures = [self.series(branch) for branch in choice.branches]
        places = _side_by_side(figures, start=0)
        tall = max(f.height for f in figures)
        meeting = LEAD + tall
        lines = [Line(0, 0, 0, LEAD), Line(0, LEAD, places[-1], LEAD)]
        for figure, x, on in zip(figures, places, choice.open, strict=True):
            if on and figure.height < tall:
                lines.append(Line(x, LEAD + figure.height, x, meeting))
        drawn = [(figure, x, float(LEAD)) for figure, x in zip(figures, places, strict=True)]
        if not any(choice.open):
            return joined(drawn, meeting, *lines)
        last = max(x for x, on in zip(places, choice.open, strict=True) if on)
        lines += [Line(0, meeting, last, meeting), Line(0, meeting, 0, meeting + LEAD)]
        return joined(drawn, meeting + LEAD, *lines)

    def parallel(self, parallel: Parallel) -> Figure:
        """Branches side by side between double lines, centred on the axis."""
        figures = [self.series(branch) for branch in parallel.branches]
        places = _side_by_side(figures, start=0)
        middle = places[-1] / 2
        places = [x - middle for x in places]
        tall = max(f.height for f in figures)
        lead, height = 18.0, tall + 36
        items = _double(places, 0)
        for figure, x in zip(figures, places, strict=True):
            items.append(Line(x, 4, x, lead))
            if parallel.joined:
                items.append(Line(x, lead + figure.height, x, height - 4))
        items += _double(places, height - 4) if parallel.joined else []
        return joined(((f, x, lead) for f, x in zip(figures, places, strict=True)), height, *items)

    def loop(self, loop: Loop, *, entered: bool = True) -> Figure:
        """The body, and the way back at its left. Not ``entered``: nothing leads to it from above."""
        body = self.series(loop.body)
        lead = 20.0
        bottom = lead + body.height
        items: list[Item] = [Line(0, 0 if entered else 8, 0, lead)]
        if loop.back is None:
            gutter = -(body.left + 20)
            items += [Line(0, bottom, gutter, bottom), *_up(gutter, bottom, 8)]
            return joined([(body, 0, lead)], bottom, *items)
        block, wide, tall = _block(self.condition(loop.back.transition), 0, 0, "condition", letters=24, lines=12)
        at = -(max(wide, 40) + BAR + 30)
        gutter = min(-body.left, at - BAR) - 20
        top, turn = bottom + 8, bottom + 8 + max(38.0, tall + 8)
        middle = (top + turn) / 2
        texts = [text.moved(at + BAR + 9, middle) for text in block]
        items += [Line(at, top, 0, top), Line(at, top, at, turn)]
        items += [Line(at - BAR, middle, at + BAR, middle, "bar"), *texts]
        items += [Line(at, turn, gutter, turn), *_up(gutter, turn, 8)]
        height = max(top, turn - 38)  # what comes next begins with a transition, which leaves room beside it
        items.append(Line(0, bottom, 0, height))
        return joined([(body, 0, lead)], height, *items)

    def above(self, aside: Aside) -> float:
        """How far a way to a fault reaches above its line: its condition, or half of its step."""
        return max(STEP / 2, self._reason(aside)[2] + 10)

    def _reason(self, aside: Aside) -> tuple[tuple[Text, ...], float, float]:
        bar = next(part for part in aside.parts if isinstance(part, Bar))
        return _block(self.condition(bar.transition), 0, 0, "condition", letters=30, lines=40)

    def aside(self, aside: Aside, clear: float, wide: float) -> Figure:
        """The way to a fault: to the right, past everything that stands beside the line and a condition so ``wide``;
        and from it the ways on, each with its own condition."""
        ways = [part.transition for part in aside.parts if isinstance(part, Bar)][1:]
        steps = [part.step for part in aside.parts if isinstance(part, StepPart)]
        jumps = [part for part in aside.parts if isinstance(part, Jump)]
        at = clear + 20
        block, _, tall = self._reason(aside)
        texts = [text.moved(at + 8, -tall / 2 - 7) for text in block]
        x = at + wide + 26
        items: list[Item] = [Line(0, 0, x, 0), Line(at, -BAR, at, BAR, "bar"), *texts]
        if not steps:
            items += [Up(x + 2, 0, "right"), Text(x + 8, 5, ", ".join(jumps[0].to), "reference")]
            return joined((), 24, *items)
        figure = self.step(steps[0])
        middle = x + figure.left
        placed = [(figure, middle, -STEP / 2)]
        y = STEP / 2
        for way, jump in zip(ways, jumps, strict=False):
            items += self.way_on(way, jump, middle, y)
            y += _WAY
        return joined(placed, max(figure.height - STEP / 2, y) + 18, *items)

    def way_on(self, way: Transition, jump: Jump, x: float, y: float) -> list[Item]:
        """A transition and the arrow to a step drawn elsewhere, from the foot of a step on or beside one above it."""
        said = Text(x + BAR + 9, y + 18, self.condition(way), "condition")
        to = Text(x, y + 54, ", ".join(jump.to), "reference", "middle")
        return [Line(x, y, x, y + 38), Line(x - BAR, y + 14, x + BAR, y + 14, "bar"), Up(x, y + 41, "down"), said, to]


def _below(aside: Aside) -> float:
    """How far a way to a fault reaches under its line."""
    ways = sum(isinstance(part, Bar) for part in aside.parts) - 1
    return STEP / 2 + max(22.0, _WAY * ways + 4)


def _block(
    words: str, x: float, middle: float, kind: str, *, letters: int, lines: int
) -> tuple[tuple[Text, ...], float, float]:
    """A block of text in which no line breaks between a number and its unit, in lines of much the same length."""
    whole = re.sub(r"(?<=\d) (?=(?:s|ms|min|h|mm|in|bar)\b)", "\N{NO-BREAK SPACE}", words)
    tall = text_block(whole, x, middle, kind, letters=letters, lines=lines)[2]
    while letters > 12 and text_block(whole, x, middle, kind, letters=letters - 1, lines=lines + 1)[2] <= tall:
        letters -= 1
    return text_block(whole, x, middle, kind, letters=letters, lines=lines)


def _boxes(actions: Sequence[str], left: float) -> tuple[list[Item], float, float]:
    """The boxes of a step's actions, side by side, in further rows where there are many; how far they reach to the
    right, and how far down from the top of the step."""
    rows: list[list[tuple[float, str]]] = []
    x = left
    for action in actions:
        wide = ceil(text_width(action)) + 20
        if not rows or x + wide - left > _ACTIONS:
            rows.append([])
            x = left
        rows[-1].append((x, action))
        x += wide
    top = max(0.0, (STEP - ROW * len(rows)) / 2)
    items: list[Item] = []
    reach = left
    for k, row in enumerate(rows):
        for at, action in row:
            wide = ceil(text_width(action)) + 20
            said = Text(at + wide / 2, top + ROW * k + 16, action, "doing", "middle")
            items += [Box(at, top + ROW * k, wide, ROW, "action"), said]
            reach = max(reach, at + wide)
    return items, reach, max(float(STEP), top + ROW * len(rows) + (6 if len(rows) > 1 else 0))


def _right_of(placed: Sequence[tuple[Figure, float, float]], top: float, bottom: float) -> float:
    """How far what stands between two heights reaches to the right."""
    return max((f.right for f, _, at in placed if at < bottom and at + f.height > top), default=0.0)


def _goes_on(parts: Sequence[Part]) -> bool:
    match parts[-1] if parts else None:
        case Jump() | Loop(back=None):
            return False
        case _:
            return True


def _side_by_side(figures: Sequence[Figure], start: float) -> list[float]:
    """The axis of each figure, with a gap between them."""
    places = [start]
    for before, figure in pairwise(figures):
        places.append(places[-1] + before.right + GAP + figure.left)
    return places


def _double(places: Sequence[float], y: float) -> list[Item]:
    left, right = min(places) - 26, max(places) + 26
    return [Line(left, y, right, y, "double"), Line(left, y + 4, right, y + 4, "double")]


def _up(x: float, bottom: float, top: float) -> tuple[Item, ...]:
    """A way back: up, an arrow head half way (links that lead up carry one, IEC 60848), and into the axis."""
    return Line(x, bottom, x, top), Up(x, (bottom + top) / 2 - 5, "up"), Line(x, top, 0, top)
