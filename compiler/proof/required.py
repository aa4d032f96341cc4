"""Whether a sequence keeps its requirements in every run, and the shortest run in which it does not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from compiler.chart import Chart, Requirement, Response
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.explore import Ending, Explored, Node, explore
from compiler.proof.monitor import breaks, watched
from compiler.proof.product import Product
from compiler.proof.situation import Move, Situation
from compiler.proof.witness import TAIL_US, Untimed, scenario_of
from compiler.proof.world import World
from compiler.proof.zone import Zone
from compiler.simulation.run import Run
from compiler.simulation.simulate import simulate

__all__ = ["Kept", "Watch", "followed"]


@dataclass(frozen=True, slots=True)
class Kept:
    """One requirement: ``broken`` in some run, or kept in every run where the search was ``settled``.

    ``free``: everything was free as it was searched. ``run`` shows how it is broken, ``at_us`` when.
    """

    name: str
    broken: bool
    settled: bool
    free: bool
    run: Run | None = None
    at_us: int = 0


class Watch:
    """A product in which some requirements are watched; give ``see`` to its search."""

    def __init__(
        self, logic: Logic, chart: Chart, machine: Machine, requirements: Sequence[Requirement | Response]
    ) -> None:
        beside = watched(logic, chart, requirements) if requirements else logic
        self.product = Product(beside, None, machine, [breaks(r) for r in requirements])
        self._logic = logic
        self._bits = {r.name: 1 << len(machine.loads) + k for k, r in enumerate(requirements)}
        self._first: dict[str, Node] = {}

    def see(self, before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        """Keep the first situation that lasts in which each is broken."""
        on = self.product.driver.on(move.target.driver)
        for name, bit in self._bits.items():
            if lasts and on & bit and name not in self._first:
                self._first[name] = Node(move.target, readings, move, before, 0)

    def kept(self, explored: Explored, world: World) -> dict[str, Kept]:
        """What the search came to, by name."""
        settled, free = explored.ending is not Ending.NOT_SETTLED, world == World()
        return {
            name: self._shown(name, self._first[name], world)
            if name in self._first
            else Kept(name, False, settled, free)
            for name in self._bits
        }

    def _shown(self, name: str, node: Node, world: World) -> Kept:
        broken = Kept(name, True, True, world == World())
        try:
            scenario = scenario_of(self.product, node, world, "the shortest run that breaks it")
        except Untimed:
            return broken
        run = simulate(self.product.machine, self._logic, scenario)
        return replace(broken, run=run, at_us=scenario.duration_us - TAIL_US)


def followed(logic: Logic, chart: Chart, machine: Machine, *, most_zones: int) -> dict[str, Kept]:
    """What must follow in time, by name: asked only while nobody presses STOP, the supply stays and no stroke jams,
    for with those nothing can be promised."""
    follows = [r for r in chart.requirements if isinstance(r, Response)]
    if not follows:
        return {}
    watch, world = Watch(logic, chart, machine, follows), World(no_jam=True, supplied=True)

    def stopped(situation: Situation, move: Move) -> bool:
        return move.happening.on and move.happening.device == machine.stop

    explored = explore(watch.product, world, most=most_zones, seen=watch.see, leave_out=stopped)
    return watch.kept(explored, world)
