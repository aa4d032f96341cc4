"""The displacement-step chart of a run: its steps equally wide, one band an actuator.

After VDI 3260 (withdrawn; its conventions from teaching texts): steps are numbered at their start, a band runs from 0
(home) to 1 (end), a thick line is level while the rod stands and slants while it moves, a switch is marked at its
point, and a thin line with an arrow leads from what gave the signal to the rod that sets out upon it. A cycle of n
steps has n + 1 boundaries, the last as the first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from compiler.machine import Machine
from compiler.simulation.causes import Causes
from compiler.simulation.run import Run
from targets.drawing.figure import Bent, Circle, Item, Line, Text, text_width
from targets.motion.band import Band, levels, switches
from targets.motion.page import MARGIN, TOP, Labels, arrows, page, seconds, shortened, titled
from targets.motion.traces import Rod, Trace, rods, traces
from targets.motion.why import Command, commands

__all__ = ["Steps", "motion_step_chart", "steps_of"]

_NAME_ROOM = 180.0
_ABOVE = 30.0  # room over the first band for what comes from outside
_PITCH = 84.0  # from band to band
_LEAST_STEP, _MOST_STEP = 72.0, 190.0
_BRIEF_US = 100_000
_NEARLY = 0.05


@dataclass(frozen=True, slots=True)
class Steps:
    """The boundaries of the steps of a run, in microseconds, and where each rod is at them, from 0 (home) to 1 (end).
    Empty where nothing moves."""

    at_us: tuple[int, ...]
    rods: tuple[tuple[Rod, tuple[float, ...]], ...]


def steps_of(run: Run, machine: Machine) -> Steps:
    """A step begins as a rod sets out, and as all come to stand for longer than 0.1 s; the last ends as all stand.

    A rod that at a boundary is less than a twentieth of its stroke short of where it stops counts as there: its
    switch makes a little before the end.
    """
    moving = rods(run, machine)
    setting_out = {m.at_us for m in run.moves if m.way}
    if not setting_out:
        return Steps((), ())
    standing = sorted(at_us for at_us in {m.at_us for m in run.moves} - setting_out if _all_stand(run, at_us))
    kept = [at for at in standing if not any(at < out <= at + _BRIEF_US for out in setting_out)]
    ends = [] if kept and kept[-1] > max(setting_out) else [run.ended_us]
    moments = tuple(sorted({at for at in (*setting_out, *kept, *ends) if at >= min(setting_out)}))
    return Steps(moments, tuple((rod, tuple(_level(rod, at_us, run) for at_us in moments)) for rod in moving))


def _all_stand(run: Run, at_us: int) -> bool:
    last = {m.actuator: m.way for m in run.moves if m.at_us <= at_us}
    return not any(last.values())


def _level(rod: Rod, at_us: int, run: Run) -> float:
    stroke = rod.actuator.stroke_um
    now = rod.at(at_us)
    stops = next((m.position_um for m in run.moves if m.actuator == rod.name and m.at_us >= at_us), now)
    # Only a rod on its way can be short of where it stops: one that sets out at this moment stops where it is.
    return (stops if abs(stops - now) < _NEARLY * stroke else now) / stroke


def motion_step_chart(run: Run, machine: Machine, *, why: Causes | None = None) -> str:
    """The SVG. ``why`` (``compiler.simulation.causes``) tells true causes from what changed at the same instant."""
    steps, signals = steps_of(run, machine), traces(run)
    title = titled(run, "displacement-step chart")
    if not steps.at_us:
        return page(title, (), width=640, height=TOP, notes=["No cylinder moves in this run."])
    moving = [rod for rod, _ in steps.rods]
    told = commands(run, moving, signals, why)
    names = [t.name for rod in moving for t in switches(rod, signals)] + [_outside(c, run) for c in told]
    step = min(_MOST_STEP, max([_LEAST_STEP, *(_width(name) + 18 for name in names)]))
    left = MARGIN + 24 + min(_NAME_ROOM, max(text_width(rod.name) for rod in moving) + 8)
    top = TOP + _ABOVE
    bands = {rod.name: Band(rod, top + _PITCH * k) for k, rod in enumerate(moving)}
    bottom = top + _PITCH * len(moving)
    x = [left + step * k for k in range(len(steps.at_us))]
    labels = Labels()
    ground = [*_boundaries(x, steps, bottom)]
    items: list[Item] = []
    for rod in moving:
        band = bands[rod.name]
        stroke = rod.actuator.stroke_um
        labels.put(Text(left - 16, band.y(stroke / 2) + 4, shortened(rod.name, _NAME_ROOM), "row", "end"))
        ground += levels(band, left, x[-1], labels)
    for rod, at in steps.rods:
        band = bands[rod.name]
        stroke = rod.actuator.stroke_um
        items.append(Bent(tuple((x[k], band.y(level * stroke)) for k, level in enumerate(at)), "rod"))
        items += _marks(rod, steps, x, at, band, signals, labels, step)
    between = [*_signals(told, steps, x, bands, run, labels, step)]
    width = max(x[-1] + MARGIN + max(map(_width, names), default=0.0), 640)
    layers = (ground, between, items, labels.texts)
    return page(title, layers, width=width, height=bottom + 24, notes=_NOTES)


def _width(name: str) -> float:
    return text_width(name, size=10)


def _boundaries(x: Sequence[float], steps: Steps, bottom: float) -> Iterator[Item]:
    """A thin line at every boundary and its number below; the last is the first again where all is as it was."""
    for k, place in enumerate(x):
        yield Line(place, TOP + _ABOVE, place, bottom, "grid")
        again = k == len(x) - 1 and all(at[0] == at[-1] for _, at in steps.rods)
        yield Text(place, bottom + 14, f"{k + 1} = 1" if again else str(k + 1), "tick", "middle")
    for k, (from_us, to_us) in enumerate(pairwise(steps.at_us)):
        yield Text((x[k] + x[k + 1]) / 2, bottom + 14, seconds(to_us - from_us), "tick", "middle")


def _marks(
    rod: Rod,
    steps: Steps,
    x: Sequence[float],
    at: Sequence[float],
    band: Band,
    signals: Sequence[Trace],
    labels: Labels,
    step: float,
) -> Iterator[Item]:
    """A solid mark where a switch of the rod makes: at its point on the line."""
    for trace in switches(rod, signals):
        for at_us, on in trace.edges:
            if not on or not steps.at_us[0] < at_us <= steps.at_us[-1]:
                continue
            k = next(n for n, until in enumerate(steps.at_us) if at_us <= until)
            share = _share(rod, at_us, (steps.at_us[k - 1], steps.at_us[k]), (at[k - 1], at[k]))
            place = x[k - 1] + (x[k] - x[k - 1]) * share
            y = band.y((at[k - 1] + (at[k] - at[k - 1]) * share) * rod.actuator.stroke_um)
            yield Circle(place, y, 3.4, "made")
            name = shortened(trace.name, step - 14, kind="small")
            above, below = (
                (Text(place - 6, to, name, "small", "end"), Text(place + 6, to, name, "small"))
                for to in (y - 6, y + 14)
            )
            # Away from the line: it comes to a high point from below, to a low one from above.
            labels.put(*((*above, *below) if y < band.y(rod.actuator.stroke_um / 2) else (*below, *above)))


def _share(rod: Rod, at_us: int, between: tuple[int, int], levels: tuple[float, float]) -> float:
    """How far into a step a mark stands: where the line is as high as the rod is then, for a rod on its way; by the
    time for one that stands."""
    low, high = levels
    if high != low:
        share = (rod.at(at_us) / rod.actuator.stroke_um - low) / (high - low)
        return 1.0 if share > 1 - _NEARLY else min(1.0, max(0.0, share))
    return (at_us - between[0]) / (between[1] - between[0])


def _signals(
    told: Sequence[Command],
    steps: Steps,
    x: Sequence[float],
    bands: dict[str, Band],
    run: Run,
    labels: Labels,
    step: float,
) -> Iterator[Item]:
    """A thin arrow for each setting out: from the rod whose switch gave the signal, or from above the bands."""
    level = {rod.name: at for rod, at in steps.rods}
    for command in told:
        k = steps.at_us.index(command.at_us)

        def height(rod: Rod, k: int = k) -> float:
            return bands[rod.name].y(level[rod.name][k] * rod.actuator.stroke_um)

        to = height(command.rod)
        if command.seen is None:
            of = TOP + _ABOVE - 8
            name = shortened(_outside(command, run), step - 10, kind="small")
            labels.put(Text(x[k], of - 8, name, "small", "middle"))
            yield from arrows(x[k], [of], [(to - 2, to, to + 2)])
        elif command.seen is not command.rod:
            yield from arrows(x[k], [height(command.seen)], [(to - 2, to, to + 2)])


def _outside(command: Command, run: Run) -> str:
    """What is written over an arrow that comes from no rod: the inputs, or that a time is over."""
    return ", ".join(command.of) or ("supply" if command.at_us == 0 else "time")


_NOTES = (
    "0 is home, 1 the end of the stroke; steps are equally wide whatever time they take, which is written below. A "
    "mark is where a switch makes. A thin arrow leads from what gave the signal to the rod that sets out upon it.",
)
