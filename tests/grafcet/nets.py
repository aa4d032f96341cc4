"""Random nested charts: lines of steps, choices, parallel work, loops and faults, one inside another."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

from hypothesis import strategies as st

from compiler.chart import Action, Chart, Step, Transition, Words
from compiler.condition import Always, Condition, Elapsed, Not, Signal, both

__all__ = ["Shape", "chart_of", "shapes"]

Shape = tuple[str, tuple["Shape", ...]]
"""What a part is ("step", "faulty step", "line", "choice", "together", "loop") and the parts in it."""

_INPUTS = tuple(f"LS{k}" for k in range(1, 30))


def shapes() -> st.SearchStrategy[Shape]:
    """Parts nested a few deep."""
    leaf: st.SearchStrategy[Shape] = st.sampled_from([("step", ()), ("faulty step", ())])

    def wider(inner: st.SearchStrategy[Shape]) -> st.SearchStrategy[Shape]:
        several = st.lists(inner, min_size=2, max_size=3).map(tuple)
        return st.one_of(
            st.tuples(st.just("line"), several),
            st.tuples(st.just("choice"), several),
            st.tuples(st.just("together"), several),
            st.tuples(st.just("loop"), st.lists(inner, min_size=1, max_size=2).map(tuple)),
        )

    return st.recursive(leaf, wider, max_leaves=14)


@dataclass
class _Net:
    steps: list[Step] = field(default_factory=list)
    transitions: list[Transition] = field(default_factory=list)
    faults: list[Step] = field(default_factory=list)

    def step(self, *, words: str = "extend RAM until at-end") -> str:
        name = f"S{len(self.steps)}"
        on = tuple(Action(output=f"SOL{k}") for k in range(1, 1 + len(self.steps) % 4))
        self.steps.append(Step(name=name, initial=not self.steps, actions=on, words=Words(text=words)))
        return name

    def tie(self, sources: tuple[str, ...], targets: tuple[str, ...], condition: Condition) -> None:
        name = f"T{len(self.transitions) + 1}"
        self.transitions.append(Transition(name=name, sources=sources, targets=targets, condition=condition))

    def condition(self) -> Condition:
        k = len(self.transitions)
        return both(*(Signal(device=_INPUTS[(k + j) % len(_INPUTS)]) for j in range((1, 3, 7, 2, 16)[k % 5])))

    def part(self, shape: Shape) -> tuple[str, str]:
        """Adds a part between a first and a last step of its own."""
        kind, inner = shape
        match kind:
            case "step" | "faulty step":
                name = self.step()
                if kind == "faulty step":
                    fault = Step(name=f"F{len(self.faults) + 1}", fault="it did not arrive")
                    self.faults.append(fault)
                    late = both(Elapsed(step=name, time_us=4_000_000), Not(of=self.condition()))
                    self.tie((name,), (fault.name,), late)
                return name, name
            case "line":
                ends = [self.part(each) for each in inner]
                for (_, before), (after, _) in pairwise(ends):
                    self.tie((before,), (after,), self.condition())
                return ends[0][0], ends[-1][1]
            case "loop":
                first, last = self.part(("line", (*inner, ("step", ()))))
                self.tie((last,), (first,), self.condition())
                after = self.step(words="")
                self.tie((last,), (after,), self.condition())
                return first, after
            case _:
                return self._wide(kind, inner)

    def _wide(self, kind: str, inner: tuple[Shape, ...]) -> tuple[str, str]:
        begin = self.step()
        ends = [self.part(each) for each in inner]
        after = self.step()
        if kind == "together":
            self.tie((begin,), tuple(first for first, _ in ends), self.condition())
            waits = tuple(self.step(words="") for _ in ends)
            for (_, last), wait in zip(ends, waits, strict=True):
                self.tie((last,), (wait,), self.condition())
            self.tie(waits, (after,), Always())
        else:
            for first, last in ends:
                self.tie((begin,), (first,), self.condition())
                self.tie((last,), (after,), self.condition())
        return begin, after


def chart_of(shape: Shape) -> Chart:
    """A chart that goes round through the shape."""
    net = _Net()
    start = net.step(words="")
    first, last = net.part(shape)
    net.tie((start,), (first,), net.condition())
    net.tie((last,), (start,), net.condition())
    return Chart(
        inputs=_INPUTS,
        outputs=("SOL1", "SOL2", "SOL3"),
        steps=(*net.steps, *net.faults),
        transitions=tuple(net.transitions),
    )
