"""What holds of one implementation by itself, over every run: does it settle, get everywhere, and come home?"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from compiler.chart import Chart, Requirement
from compiler.chart_logic import ChartLogic
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.collecting import seldom_collected
from compiler.proof.cycle import CycleTime, cycle_time
from compiler.proof.explore import Ending, Node, explore, never_settling
from compiler.proof.hunt.met import steps_met
from compiler.proof.product import Product
from compiler.proof.required import Kept, Watch, followed
from compiler.proof.shown import Shown, opposed_loads, shown_of
from compiler.proof.situation import Move, Situation
from compiler.proof.station import StationTime, station_times
from compiler.proof.supply import WithSupply, with_supply
from compiler.proof.world import World
from compiler.proof.zone import Zone
from compiler.shape import shape_of
from compiler.simulation.run import EventKind

__all__ = ["Examined", "Question", "examine"]

_BRIEF = 6_000
"""So many zones, and it is asked what can be shown without a search."""

_MOST_FREE = 50_000
_MOST_FURTHER = 15_000
"""So many zones for each search when the first was given up."""


class Question(StrEnum):
    """What is asked of a sequence alone."""

    SETTLES = "whether it settles in every run"
    OPPOSED = "whether anything is driven both ways at once"
    REACHED = "which steps are reached"
    HOME = "whether it comes home from everywhere"
    CYCLE = "how long a cycle takes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """What was proved of a sequence alone. Empty tuples are good news, but for the questions that are ``open``: there
    the search was given up, and nothing else told.

    ``chatters`` never settles; ``both_on`` are actuators and motors that may be driven both ways at once for longer
    than no time; in ``unreached`` steps no run stays; from ``stuck`` steps nothing leads back to rest at home while
    the supply stays; from ``away`` STOP alone does not (``away`` is None where the machine has no STOP).
    ``stations`` tell the cycle of each by itself where that of all together could not be told. ``supply`` is what a
    supply that comes back brings about by itself (None where that was not asked).
    """

    open: tuple[Question, ...]
    situations: int
    chatters: tuple[str, ...]
    both_on: tuple[str, ...]
    unreached: tuple[str, ...]
    unmet: tuple[str, ...]
    stuck: tuple[str, ...]
    away: tuple[str, ...] | None
    cycle: CycleTime | None
    stations: tuple[StationTime, ...]
    kept: tuple[Kept, ...]
    supply: WithSupply | None = None

    @property
    def settled(self) -> bool:
        """Whether every question has its answer."""
        return not self.open

    @property
    def good(self) -> bool:
        """Whether nothing is wrong. A step that is not reached and a STOP that leaves a rod out may be meant."""
        return not (self.chatters or self.both_on or self.stuck)


@seldom_collected()
def examine(logic: Logic, chart: Chart, machine: Machine, *, most_zones: int) -> Examined:
    """Search every run of a chart's own ``logic``: everything free, and no jam where coming home is asked. What is
    too large to be searched is shown by other means, as far as these go."""
    watch = Watch(logic, chart, machine, [r for r in chart.requirements if isinstance(r, Requirement)])
    product = watch.product
    map_ = _Map(product)

    def see(before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        map_.see(before, move, readings, lasts)
        watch.see(before, move, readings, lasts)

    free = explore(product, World(), most=min(most_zones, _BRIEF), seen=see)
    shown = Shown()
    if free.ending is Ending.NOT_SETTLED:
        shown = shown_of(logic, chart, machine, rests=product.driver.lit(product.first().target.driver))
        if not (shown.home and shown.settles):
            free = explore(product, World(), most=min(most_zones, _MOST_FREE), seen=see)
    whole = free.ending is not Ending.NOT_SETTLED
    most_zones = most_zones if whole else min(most_zones, _MOST_FURTHER)
    kept = watch.kept(free, World()) | followed(logic, chart, machine, most_zones=most_zones)
    home = (
        _Home(False, (), ())
        if shown.home and not whole
        else _home(product, machine, most_zones, shape_of(chart).memory)
    )
    lit = map_.lasting_lit()
    unlit = [step.name for step in chart.steps if step.name not in lit]
    unmet = () if whole else _unmet(logic, machine, [name for name in unlit if name not in shown.unlit])
    both_on = _both_on(product, map_.lasting)
    chatters = never_settling(product, free)
    cycle, stations = _cycles(logic, chart, machine, most_zones, whole=whole)
    unanswered = {
        Question.SETTLES: not (whole or chatters or shown.settles),
        Question.OPPOSED: not (whole or both_on or shown.unopposed),
        Question.REACHED: bool(unmet),
        Question.HOME: home.is_open,
        Question.CYCLE: not whole and cycle is None and not stations,
    }
    return Examined(
        supply=with_supply(chart, machine) if isinstance(logic, ChartLogic) else None,
        open=tuple(question for question, is_open in unanswered.items() if is_open),
        situations=free.situations,
        chatters=chatters,
        both_on=both_on,
        unreached=tuple(name for name in unlit if whole or name in shown.unlit),
        unmet=unmet,
        stuck=home.stuck,
        away=None if machine.stop is None else home.away,
        cycle=cycle,
        stations=stations,
        kept=tuple(_kept(kept[r.name], shown) for r in chart.requirements),
    )


def _unmet(logic: Logic, machine: Machine, steps: list[str]) -> tuple[str, ...]:
    """Those steps that runs at random do not meet either."""
    met = steps_met(logic, machine, steps) if steps else set()
    return tuple(name for name in steps if name not in met)


def _both_on(product: Product, lasting: Collection[Situation]) -> tuple[str, ...]:
    """The actuators and motors that are driven both ways in a situation that lasts."""
    driver = product.driver
    opposed = _opposed(product.machine).items()
    return tuple(name for name, loads in opposed if any(driver.on(s.driver) & loads == loads for s in lasting))


def _kept(kept: Kept, shown: Shown) -> Kept:
    """A requirement, settled where it is shown never to be broken."""
    return replace(kept, settled=True) if kept.name in shown.never and not kept.broken else kept


def _cycles(
    logic: Logic, chart: Chart, machine: Machine, most_zones: int, *, whole: bool
) -> tuple[CycleTime | None, tuple[StationTime, ...]]:
    """How long a cycle takes; where all of it is too large, how long that of each station takes by itself."""
    several = len(shape_of(chart).stations) > 1
    cycle = cycle_time(logic, chart, machine, most_zones=most_zones) if whole or not several else None
    if whole or cycle is not None:
        return cycle, ()
    return None, station_times(chart, machine, most_zones=most_zones)


@dataclass(frozen=True, slots=True)
class _Home:
    """Whether the search was given up; in which steps it gets stuck, and from which STOP alone leaves it away."""

    is_open: bool
    stuck: tuple[str, ...]
    away: tuple[str, ...]


def _home(product: Product, machine: Machine, most_zones: int, beside: Collection[str]) -> _Home:
    """Whether it comes home, by a search of every run without jams."""
    unjammed = _Map(product)
    calm = explore(product, World(no_jam=True), most=most_zones, seen=unjammed.see)
    if calm.ending is Ending.NOT_SETTLED:
        return _Home(True, (), ())
    home = [s for s in unjammed.found if _at_home(product, s)]
    back = unjammed.leading_to(home, lambda situation, move: move.happening.kind is not EventKind.SUPPLY)
    stopped = unjammed.leading_to(home, _only_stop(machine.stop))
    lasting = unjammed.lasting if home else {}
    return _Home(
        False,
        _steps(product, (s for s in lasting if s not in back), beside),
        _steps(product, (s for s in lasting if s not in stopped), beside),
    )


class _Map:
    """The situations met and the events between them; which follow is kept by situation, not by clock readings."""

    def __init__(self, product: Product) -> None:
        self.product = product
        self.found: dict[Situation, None] = {product.first().target: None}
        self.lasting: dict[Situation, None] = {}
        self.into: dict[Situation, dict[Situation, list[Move]]] = {}

    def see(self, before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        self.found[move.target] = None
        if lasts:
            self.lasting[move.target] = None
        if before is not None:
            self.into.setdefault(move.target, {}).setdefault(before.situation, []).append(move)

    def lasting_lit(self) -> set[str]:
        """Everything that is on inside in some situation that lasts."""
        states = {s.driver for s in self.lasting} | {self.product.first().target.driver}
        return {name for state in states for name in self.product.driver.lit(state)}

    def leading_to(self, home: Iterable[Situation], allowed: Callable[[Situation, Move], bool]) -> set[Situation]:
        """The situations from which allowed events lead to one of these."""
        reached = set(home)
        waiting = list(reached)
        while waiting:
            target = waiting.pop()
            for source, moves in self.into.get(target, {}).items():
                if source not in reached and any(allowed(source, move) for move in moves):
                    reached.add(source)
                    waiting.append(source)
        return reached


def _only_stop(stop: str | None) -> Callable[[Situation, Move], bool]:
    """What happens by itself, STOP, and letting go of other things."""

    def allowed(situation: Situation, move: Move) -> bool:
        happening = move.happening
        return happening.kind is None or (
            happening.kind is EventKind.INPUT and (happening.device == stop or not happening.on)
        )

    return allowed


def _at_home(product: Product, situation: Situation) -> bool:
    """At rest as in the beginning: the same is on inside, and every rod stands where it stood."""
    first = product.first().target
    lit = product.driver.lit
    standing = all(rod.rests(place) for rod, place in zip(product.rods, situation.places, strict=True))
    return lit(situation.driver) == lit(first.driver) and standing


def _opposed(machine: Machine) -> dict[str, int]:
    """For each valve and motor that has two, the bits of the loads that drive it opposite ways."""
    loads = {load.name: 1 << k for k, load in enumerate(machine.loads)}
    return {name: sum(loads[load] for load in pair) for name, pair in opposed_loads(machine).items()}


def _steps(product: Product, situations: Iterable[Situation], beside: Collection[str]) -> tuple[str, ...]:
    """What is on inside in these situations, each name once, but for what only remembers something ``beside`` the
    sequence; the supply off is nowhere."""
    names = (name for s in situations if s.supply for name in product.driver.lit(s.driver) if name not in beside)
    return tuple(dict.fromkeys(names))
