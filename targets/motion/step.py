"""The displacement-step chart of a run: its steps equally wide, one band an actuator.

After VDI 3260 (withdrawn; its conventions from teaching texts): steps are numbered at their start, a band runs from 0
(home) to 1 (end), a thick line is level while the rod stands and slants while it moves, a switch is marked at its
point, and a thin line with an arrow leads from what gave the signal to the rod that sets out upon it. A cycle of n
steps has n + 1 boundaries, the last as the first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from compiler.machine import Machine
from compiler.simulation.causes import Causes
from compiler.simulation.run import Run
from compiler.simulation.traces import Rod, Trace, rods, traces
from targets.drawing.figure import Bent, Circle, Item, Line, Text, text_width
from targets.motion.arrows import Anchor, arrows
from targets.motion.band import Band, levels, passed, switches
from targets.motion.page import MARGIN, TOP, Labels, Moments, lines_of, page, seconds, shortened, titled
from targets.motion.turning import Turning, TurningBand, turnings
from targets.motion.why import Command, commands

__all__ = ["Steps", "motion_step_chart", "outside_words", "steps_of"]

_NAME_ROOM = 180.0
_ABOVE = 30.0  # room over the first band for what comes from outside
_PITCH = 84.0  # from band to band
_LEAST_STEP, _MOST_STEP = 54.0, 190.0
_BRIEF_US = 100_000
_NEARLY = 0.05
_LEAST_WIDTH = 720.0


@dataclass(frozen=True, slots=True)
class Steps:
    """The boundaries of the steps of a run, in microseconds, where each rod is at them, from 0 (home) to 1 (end), and
    which way each motor runs from them on. Empty where nothing moves."""

    at_us: tuple[int, ...]
    rods: tuple[tuple[Rod, tuple[float, ...]], ...]
    motors: tuple[tuple[Turning, tuple[int, ...]], ...] = ()


def steps_of(run: Run, machine: Machine) -> Steps:
    """A step begins as a rod sets out or a motor is switched, and as all rods, or one that waits for its own next
    stroke, come to stand for longer than 0.1 s; the last ends as all stand.

    A rod that at a boundary is less than a twentieth of its stroke short of where it stops counts as there: its
    switch makes a little before the end.
    """
    moving, motors = rods(run, machine), turnings(run, machine)
    turned = {at_us for motor in motors for k, (at_us, way) in enumerate(motor.ways) if k or way}
    setting_out = {m.at_us for m in run.moves if m.way} | turned
    if not setting_out:
        return Steps((), (), ())
    standing = sorted(at_us for at_us in {m.at_us for m in run.moves} - setting_out if _all_stand(run, at_us))
    kept = [at for at in standing if not any(at < out <= at + _BRIEF_US for out in setting_out)]
    last = max(setting_out)
    over = bool(kept and kept[-1] > last) or (_all_stand(run, last) and not any(m.at(last) for m in motors))
    ends = [] if over else [run.ended_us]
    begun = {*setting_out, *kept, *ends}
    moments = tuple(sorted(at for at in {*begun, *_waits(run, begun)} if at >= min(setting_out)))
    levels = tuple((rod, _straight(rod, moments, run)) for rod in moving)
    return Steps(moments, levels, tuple((m, tuple(m.at(at_us) for at_us in moments)) for m in motors))


def _waits(run: Run, begun: Collection[int]) -> Iterator[int]:
    """Where a rod comes to stand, and sets out again later, with no boundary between while others are on their way: a
    dwell, which without a boundary of its own would be drawn as part of the stroke."""
    for name in {m.actuator for m in run.moves}:
        own = [m for m in run.moves if m.actuator == name]
        for here, then in pairwise(own):
            unseen = not any(here.at_us <= at < then.at_us for at in begun)
            if not here.way and then.at_us > here.at_us + _BRIEF_US and unseen:
                yield here.at_us


def _straight(rod: Rod, moments: Sequence[int], run: Run) -> tuple[float, ...]:
    """Where a rod is at every boundary. A stroke goes on evenly over the steps it takes: how much of it falls into
    each of them is a matter of time, which this chart does not show."""
    at = [_level(rod, at_us, run) for at_us in moments]
    turns = {m.at_us for m in run.moves if m.actuator == rod.name}
    fixed = [k for k, at_us in enumerate(moments) if k in (0, len(moments) - 1) or at_us in turns or _rests(at, k)]
    for first, last in pairwise(fixed):
        for k in range(first + 1, last):
            at[k] = at[first] + (at[last] - at[first]) * (k - first) / (last - first)
    return tuple(at)


def _rests(at: Sequence[float], k: int) -> bool:
    """Whether a rod stands before or after a boundary."""
    return at[k] in (at[k - 1], at[k + 1])


def _all_stand(run: Run, at_us: int) -> bool:
    last = {m.actuator: m.way for m in run.moves if m.at_us <= at_us}
    return not any(last.values())


def _level(rod: Rod, at_us: int, run: Run) -> float:
    stroke = rod.actuator.stroke_um
    now = rod.at(at_us)
    stops = next((m.position_um for m in run.moves if m.actuator == rod.name and m.at_us >= at_us), now)
    # Only a rod on its way can be short of where it stops: one that sets out at this moment stops where it is.
    return (stops if abs(stops - now) < _NEARLY * stroke else now) / stroke


def motion_step_chart(run: Run, machine: Machine, *, why: Causes | None = None, prefix: str = "") -> str:
    """The SVG. ``why`` (``compiler.simulation.causes``) tells true causes from what changed at the same instant.
    Every boundary has an anchor (``targets.anchors``), with ``prefix`` before it."""
    steps, signals = steps_of(run, machine), traces(run)
    title = titled(run, "displacement-step chart")
    if not steps.at_us:
        return page(title, (), width=640, height=TOP, notes=["Nothing moves in this run."])
    told = commands(run, [rod for rod, _ in steps.rods], signals, why)
    sheet = _sheet(
        steps, [*(t.name for rod, _ in steps.rods for t in switches(rod, signals)), *map(outside_words, told)]
    )
    between = [*_signals(told, steps, sheet, Labels())]
    slanting = [Bent(_line(steps, sheet, name), "rod") for name in sheet.bands]
    labels = Labels(lines_of([*between, *slanting], "cause", "rod"))
    ground = [*_boundaries(sheet, steps)]
    for rod, _ in steps.rods:
        band = sheet.bands[rod.name]
        middle = band.y(rod.actuator.stroke_um / 2) + 4
        labels.put(Text(sheet.left - 16, middle, shortened(rod.name, _NAME_ROOM), "row", "end"))
        ground += levels(band, sheet.left, sheet.x[-1], labels)
    items: list[Item] = [*_motors(steps, sheet, ground, labels), *slanting]
    for rod, at in steps.rods:
        items += _marks(rod, steps, at, sheet, signals, labels)
    between = [*_signals(told, steps, sheet, labels)]
    return page(
        title,
        (ground, between, items, labels.texts),
        width=max(sheet.x[-1] + MARGIN + sheet.widest, _LEAST_WIDTH),
        height=sheet.bottom + 38,
        notes=_NOTES,
        moments=Moments(dict(zip(steps.at_us, sheet.x, strict=True)), TOP + _ABOVE, sheet.bottom, prefix),
    )


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Where everything of a chart stands: the boundaries, the bands of rods and of motors, and what is below all;
    ``widest`` is the room of the longest name beside a mark."""

    left: float
    step: float
    x: tuple[float, ...]
    bands: dict[str, Band]
    motors: tuple[TurningBand, ...]
    bottom: float
    widest: float


def _sheet(steps: Steps, names: Sequence[str]) -> _Sheet:
    called = [text_width(rod.name) + 8 for rod, _ in steps.rods]
    called += [text_width(motor.name) + TurningBand(motor, 0).beyond - 8 for motor, _ in steps.motors]
    left = MARGIN + 24 + min(_NAME_ROOM, max([*called, _width("lasts") + 8]))
    widest = max(map(_width, names), default=0.0)
    fills = (_LEAST_WIDTH - left - MARGIN - widest) / max(1, len(steps.at_us) - 1)
    step = float(int(min(_MOST_STEP, max(_LEAST_STEP, widest + 18, fills))))
    y = TOP + _ABOVE
    bands: dict[str, Band] = {}
    for rod, _ in steps.rods:
        bands[rod.name] = Band(rod, y)
        y += _PITCH
    motors = []
    for motor, _ in steps.motors:
        motors.append(TurningBand(motor, y))
        y += motors[-1].height
    x = tuple(left + step * k for k in range(len(steps.at_us)))
    return _Sheet(left, step, x, bands, tuple(motors), y, widest)


def _line(steps: Steps, sheet: _Sheet, name: str) -> tuple[tuple[float, float], ...]:
    """The line of a rod."""
    rod, at = next(each for each in steps.rods if each[0].name == name)
    y = [sheet.bands[name].y(level * rod.actuator.stroke_um) for level in at]
    return tuple(zip(sheet.x, y, strict=True))


def _motors(steps: Steps, sheet: _Sheet, ground: list[Item], labels: Labels) -> Iterator[Item]:
    """The bands of motors: a motor is switched at a boundary, and runs or stands for whole steps."""
    for band, (motor, ways) in zip(sheet.motors, steps.motors, strict=True):
        name = shortened(motor.name, _NAME_ROOM)
        labels.put(Text(sheet.left - band.beyond, band.middle + 4, name, "row", "end"))
        ground += band.levels(sheet.left, sheet.x[-1], labels)
        points = [(sheet.left, band.y(0))]
        for x, way in zip(sheet.x, ways, strict=True):
            points += [(x, points[-1][1]), (x, band.y(way))]
        yield Bent(tuple(points), "rod")


def _width(name: str) -> float:
    return text_width(name, size=10)


def _boundaries(sheet: _Sheet, steps: Steps) -> Iterator[Item]:
    """A thin line at every boundary and its number below; the last is the first again where all is as it was. Below
    the numbers, how long each step lasts."""
    x, bottom = sheet.x, sheet.bottom
    for y, said in ((bottom + 14, "step"), (bottom + 30, "lasts")):
        yield Text(sheet.left - 16, y, said, "tick", "end")
    for k, place in enumerate(x):
        yield Line(place, TOP + _ABOVE, place, bottom, "grid")
        again = k == len(x) - 1 and all(at[0] == at[-1] for _, at in steps.rods)
        yield Text(place, bottom + 14, f"{k + 1} = 1" if again else str(k + 1), "tick", "middle")
    for k, (from_us, to_us) in enumerate(pairwise(steps.at_us)):
        yield Text((x[k] + x[k + 1]) / 2, bottom + 30, seconds(to_us - from_us), "small", "middle")


def _marks(
    rod: Rod,
    steps: Steps,
    at: Sequence[float],
    sheet: _Sheet,
    signals: Sequence[Trace],
    labels: Labels,
) -> Iterator[Item]:
    """A solid mark where a switch of the rod makes: at its point on the line."""
    x, band = sheet.x, sheet.bands[rod.name]
    for trace in switches(rod, signals):
        for at_us, on in passed(trace, signals):
            if not on or not steps.at_us[0] < at_us <= steps.at_us[-1]:
                continue
            k = next(n for n, until in enumerate(steps.at_us) if at_us <= until)
            share = _share(rod, at_us, (steps.at_us[k - 1], steps.at_us[k]), (at[k - 1], at[k]))
            place = x[k - 1] + (x[k] - x[k - 1]) * share
            y = band.y((at[k - 1] + (at[k] - at[k - 1]) * share) * rod.actuator.stroke_um)
            yield Circle(place, y, 3.4, "made")
            name = shortened(trace.name, sheet.step - 14, kind="small")
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
    sheet: _Sheet,
    labels: Labels,
) -> Iterator[Item]:
    """A thin arrow for each setting out: from the rod whose switch gave the signal, or from above the bands."""
    level = {rod.name: at for rod, at in steps.rods}
    for command in told:
        k = steps.at_us.index(command.at_us)

        def height(rod: Rod, k: int = k) -> float:
            return sheet.bands[rod.name].y(level[rod.name][k] * rod.actuator.stroke_um)

        to = height(command.rod)
        if command.seen is None:
            of = TOP + _ABOVE - 8
            name = shortened(outside_words(command), sheet.step - 10, kind="small")
            labels.put(Text(sheet.x[k], of - 8, name, "small", "middle"))
            yield from arrows(sheet.x[k], of, [Anchor(to - 2, to, to + 2)])
        elif command.seen is not command.rod:
            yield from arrows(sheet.x[k], height(command.seen), [Anchor(to - 2, to, to + 2)])


def outside_words(command: Command) -> str:
    """What is written over an arrow that comes from no rod: the inputs, or the time that is over."""
    over = f"{seconds(command.after_us)} over" if command.after_us else "time over"
    return ", ".join(command.of) or ("supply" if command.at_us == 0 else over)


_NOTES = (
    "0 is home, 1 the end of the stroke; steps are equally wide whatever time they take, which is written below. A "
    "mark is where a switch makes. A thin arrow leads from what gave the signal to the rod that sets out upon it.",
)
