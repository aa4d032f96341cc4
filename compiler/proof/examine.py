"""What holds of one implementation by itself, over every run: does it settle, get everywhere, and come home?"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from compiler.chart import Chart, Requirement
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.cycle import CycleTime, cycle_time
from compiler.proof.explore import Ending, Node, explore, never_settling
from compiler.proof.product import Product
from compiler.proof.required import Kept, Watch, followed
from compiler.proof.situation import Move, Situation
from compiler.proof.world import World
from compiler.proof.zone import Zone
from compiler.simulation.run import EventKind

__all__ = ["Examined", "examine"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """What was proved of a sequence alone. Empty tuples are good news; ``settled`` says whether the search was whole.

    ``chatters`` never settles; ``both_on`` are actuators and motors that may be driven both ways at once for longer
    than no time; in ``unreached`` steps no run stays; from ``stuck`` steps nothing leads back to rest at home while
    the supply stays; from ``away`` STOP alone does not (``away`` is None where the machine has no STOP).
    """

    settled: bool
    situations: int
    chatters: tuple[str, ...]
    both_on: tuple[str, ...]
    unreached: tuple[str, ...]
    stuck: tuple[str, ...]
    away: tuple[str, ...] | None
    cycle: CycleTime | None
    kept: tuple[Kept, ...]

    @property
    def good(self) -> bool:
        """Whether nothing is wrong. A step that is not reached and a STOP that leaves a rod out may be meant."""
        return not (self.chatters or self.both_on or self.stuck)


def examine(logic: Logic, chart: Chart, machine: Machine, *, most_zones: int) -> Examined:
    """Search every run of a chart's own ``logic``: everything free, and no jam where coming home is asked."""
    watch = Watch(logic, chart, machine, [r for r in chart.requirements if isinstance(r, Requirement)])
    product = watch.product
    map_ = _Map(product)

    def see(before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        map_.see(before, move, readings, lasts)
        watch.see(before, move, readings, lasts)

    free = explore(product, World(), most=most_zones, seen=see)
    kept = watch.kept(free, World()) | followed(logic, chart, machine, most_zones=most_zones)
    unjammed = _Map(product)
    calm = explore(product, World(no_jam=True), most=most_zones, seen=unjammed.see)
    home = [s for s in unjammed.found if _home(product, s)]
    back = unjammed.leading_to(home, lambda situation, move: move.happening.kind is not EventKind.SUPPLY)
    stopped = unjammed.leading_to(home, _only_stop(machine.stop))
    lit = map_.lasting_lit()
    return Examined(
        settled=Ending.NOT_SETTLED not in (free.ending, calm.ending),
        situations=free.situations,
        chatters=never_settling(product, free),
        both_on=tuple(
            name
            for name, both in _opposed(machine).items()
            if any(product.driver.on(s.driver) & both == both for s in map_.lasting)
        ),
        unreached=tuple(step.name for step in chart.steps if step.name not in lit),
        stuck=_steps(product, (s for s in unjammed.lasting if s not in back)),
        away=None if machine.stop is None else _steps(product, (s for s in unjammed.lasting if s not in stopped)),
        cycle=cycle_time(logic, chart, machine, most_zones=most_zones),
        kept=tuple(kept[r.name] for r in chart.requirements),
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


def _home(product: Product, situation: Situation) -> bool:
    """At rest as in the beginning: the same is on inside, and every rod stands where it stood."""
    first = product.first().target
    lit = product.driver.lit
    standing = all(rod.rests(place) for rod, place in zip(product.rods, situation.places, strict=True))
    return lit(situation.driver) == lit(first.driver) and standing


def _opposed(machine: Machine) -> dict[str, int]:
    """For each valve and motor that has two, the bits of the loads that drive it opposite ways."""
    loads = {load.name: 1 << k for k, load in enumerate(machine.loads)}
    valves = {a.name: a.valve.opposed for a in machine.actuators if a.valve.opposed}
    motors = {m.name: (m.forward, m.reverse) for m in machine.motors}
    return {name: sum(loads[load] for load in pair) for name, pair in (valves | motors).items()}


def _steps(product: Product, situations: Iterable[Situation]) -> tuple[str, ...]:
    """What is on inside in these situations, each name once; the supply off is nowhere."""
    names = (name for s in situations if s.supply for name in product.driver.lit(s.driver))
    return tuple(dict.fromkeys(names))
