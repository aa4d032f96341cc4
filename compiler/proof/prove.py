"""The proof: are two implementations the same, under which assumptions, and if not, what is the shortest run?

Assumptions are tried in the published order of ``compiler.proof.world.WORLDS``; the first set under which no run
differs is the weakest that holds. Where nothing need be assumed, not even a machine is if that can be shown as well.
Every difference told is a run replayed by the simulator.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.collecting import seldom_collected
from compiler.proof.explore import Ending, Explored, explore, never_settling
from compiler.proof.hasty import too_quick
from compiler.proof.hunt.hunt import Hunted, hunt
from compiler.proof.identical import identical
from compiler.proof.induction.induct import always_same
from compiler.proof.natural import keeps, natural
from compiler.proof.product import Product
from compiler.proof.unbound import TooMany, Unbound
from compiler.proof.verdict import Outside, Proof, Standing
from compiler.proof.witness import Untimed, scenario_of
from compiler.proof.world import WORLDS, Assumed, World
from compiler.simulation.run import Run, Scenario
from compiler.simulation.simulate import simulate

__all__ = ["MOST_ZONES", "prove"]

MOST_ZONES = 150_000
"""A search that has met so many zones is given up, if not sooner, and the verdict is "not settled"."""

_QUICK_ZONES = 3_000
_MOST_IN_ALL = 100_000
"""So many zones for all that is assumed, one after another; a search takes at most half of what is left."""
_AFTER_US = 2_000_000
_REAL_RUNS = 4
"""So many runs of each kind are tried for a real one, where that found has a rod quicker than it can be."""


@seldom_collected()
def prove(
    driver: Logic,
    shadow: Logic,
    machine: Machine,
    *,
    worlds: Sequence[World] = WORLDS,
    announced: Collection[Assumed] = (),
    most_zones: int = MOST_ZONES,
    told: Callable[[str], None] = lambda _: None,
) -> Proof:
    """Whether ``shadow``, in place of ``driver``, would do the same with this machine: every travel time within its
    limits, every moment of every press, every loss of supply, any one failure. ``worlds`` are the sets of assumptions
    to try, the weakest first, all at least as strong as the first; those that assume nothing but what is
    ``announced`` are tried before the others. ``told`` hears what is being searched.

    Raises KeyError when a logic reads an input that the machine does not have.
    """
    product = Product(driver, shadow, machine)
    worlds = _announced_first(worlds, announced)
    told("everything free")
    free = worlds[0]
    searched = {free: explore(product, free, most=min(_QUICK_ZONES, most_zones))}
    match searched[free].ending:
        case Ending.ALIKE:
            shown = _unbound(driver, shadow, machine)
        case Ending.NOT_SETTLED:
            if identical(driver, shadow):
                return replace(_same(driver, shadow, anywhere=True), identical=True)
            # So large that it is worth asking first whether the machine matters at all.
            told("part by part")
            shown = _by_induction(driver, shadow, machine, free) or _unbound(driver, shadow, machine)
        case Ending.DIFFERS:
            shown = None
    if shown is not None:
        return shown
    # What differs with everything assumed differs whatever is assumed, and that is soon found.
    told("everything assumed")
    left = min(2 * most_zones, _MOST_IN_ALL)
    searched[worlds[-1]] = _searched(product, worlds[-1], min(most_zones, left // 2))
    left -= searched[worlds[-1]].zones
    hunted = Hunted(0)
    if searched[worlds[-1]].ending is Ending.NOT_SETTLED:
        told("runs at random")
        hunted = hunt(driver, shadow, machine, base=free.assumed, announced=announced)
    if hunted.found is not None:
        return _found(driver, shadow, hunted, searched[worlds[-1]], worlds[0])
    given_up = searched[worlds[-1]].ending is Ending.NOT_SETTLED
    for world in worlds if searched[worlds[-1]].ending is not Ending.DIFFERS else ():
        if given_up and left < _QUICK_ZONES:
            break
        if world not in searched or searched[world].ending is Ending.NOT_SETTLED:
            told(" and ".join(world.assumed) or "everything free")
            # Where one search after another is given up, the last are hardly begun.
            searched[world] = _searched(product, world, min(most_zones, max(left // 2, 0)))
            left -= searched[world].zones
        if _holds(product, world, searched[world]):
            break
    return replace(_verdict(product, driver, shadow, searched, worlds), tried=hunted.tried)


def _announced_first(worlds: Sequence[World], announced: Collection[Assumed]) -> tuple[World, ...]:
    """The worlds in the order in which they are tried; the strictest stays the last."""
    allowed = {*worlds[0].assumed, *announced}
    return (*sorted(worlds[:-1], key=lambda world: not allowed.issuperset(world.assumed)), worlds[-1])


def _holds(product: Product, world: World, explored: Explored) -> bool:
    """Whether no run of a world differs. A careful operator who never finds it ready to START proves nothing."""
    idle = world.careful and product.start != 0 and not explored.starts
    return explored.ending is Ending.ALIKE and not idle


def _searched(product: Product, world: World, most_zones: int) -> Explored:
    """A search as far as it needs to go: briefly, then blurred, which can only find two alike, then in full."""
    brief = explore(product, world, most=min(_QUICK_ZONES, most_zones))
    if brief.ending is not Ending.NOT_SETTLED:
        return brief
    blurred = explore(product, world, most=most_zones, blurred=True)
    if blurred.ending is Ending.ALIKE and blurred.chattering is None:
        return blurred
    if brief.zones >= most_zones:
        return brief
    whole = explore(product, world, most=max(most_zones - blurred.zones // 2, _QUICK_ZONES))
    return replace(whole, zones=whole.zones + blurred.zones)


def _by_induction(driver: Logic, shadow: Logic, machine: Machine, free: World) -> Proof | None:
    """The proof part by part, which does not mind how much goes on side by side: whatever the inputs do, or at least
    whatever they do one after another, as in every run of a machine."""
    for one_by_one in (False, True):
        shown = always_same(driver, shadow, machine, one_by_one=one_by_one)
        if shown is not None:
            proof = _same(driver, shadow, anywhere=not one_by_one, combinations=shown.combinations)
            return replace(proof, base=free.assumed) if one_by_one else proof
    return None


def _unbound(driver: Logic, shadow: Logic, machine: Machine) -> Proof | None:
    """The proof that two logics are the same whatever their inputs are; None where that cannot be shown cheaply."""
    try:
        explored = explore(Unbound(driver, shadow, machine), World(), most=_QUICK_ZONES)
    except TooMany:
        return None
    if explored.ending is not Ending.ALIKE or explored.chattering is not None:
        return None
    return _same(driver, shadow, anywhere=True, situations=explored.situations, zones=explored.zones)


def _same(
    driver: Logic, shadow: Logic, *, anywhere: bool, situations: int = 0, zones: int = 0, combinations: int = 0
) -> Proof:
    return Proof(
        driver=driver.name,
        shadow=shadow.name,
        standing=Standing.SAME,
        situations=situations,
        zones=zones,
        combinations=combinations,
        holds=True,
        anywhere=anywhere,
    )


def _found(driver: Logic, shadow: Logic, hunted: Hunted, explored: Explored, free: World) -> Proof:
    """What a run says that was found by trying."""
    assert hunted.found is not None
    first, *others = hunted.found.beyond or (None,)
    also = tuple(assumed for assumed in others if assumed is not None)
    return Proof(
        driver=driver.name,
        shadow=shadow.name,
        standing=Standing.DIFFERS,
        situations=explored.situations,
        zones=explored.zones,
        tried=hunted.tried,
        base=free.assumed,
        outside=(Outside(first, hunted.found.run, also),),
    )


def _verdict(
    product: Product, driver: Logic, shadow: Logic, searched: dict[World, Explored], worlds: Sequence[World]
) -> Proof:
    """What the searches say: the last one is the one that holds, if any does."""
    tried = [w for w in worlds if w in searched]  # the weakest first
    settled = [w for w in tried if _holds(product, w, searched[w])]
    given_up = [w for w in tried if searched[w].ending is Ending.NOT_SETTLED]
    given_up.sort(key=lambda w: searched[w].situations)
    differing = [w for w in tried if searched[w].ending is Ending.DIFFERS]
    if worlds[-1] in differing:
        world = worlds[-1]
    else:
        world = next(w for w in (*settled, *reversed(given_up), *reversed(differing)))
    explored, base = searched[world], worlds[0].assumed
    needs = tuple(a for a in world.assumed if a not in base)
    proof = Proof(
        driver=driver.name,
        shadow=shadow.name,
        standing=Standing.NOT_SETTLED,
        situations=explored.situations,
        zones=explored.zones,
        base=base,
        chatters=never_settling(product, explored),
    )
    match explored.ending:
        case Ending.ALIKE:
            outside = [
                _outside(product, driver, shadow, a, _shown(product, driver, shadow, differing, w))
                for a in needs
                for w, differing in [_beyond(product, searched, world, a, worlds[-1])]
                if differing.ending is Ending.DIFFERS
            ]
            unsettled = not explored.situations or any(e.ending is Ending.NOT_SETTLED for e in searched.values())
            standing = Standing.NOT_SETTLED if unsettled else Standing.SAME_ONLY_IF if needs else Standing.SAME
            return replace(proof, standing=standing, needs=needs, holds=True, outside=tuple(outside))
        case Ending.DIFFERS:
            shown = _outside(product, driver, shadow, None, _shown(product, driver, shadow, explored, world))
            standing = Standing.NOT_SETTLED if shown.hasty else Standing.DIFFERS
            return replace(proof, standing=standing, outside=(shown,))
        case Ending.NOT_SETTLED:
            return proof


def _outside(product: Product, driver: Logic, shadow: Logic, beyond: Assumed | None, run: Run | None) -> Outside:
    """A difference. Where rods cross quicker than they can in its run, a real one is tried for."""
    if run is None or run.difference is None:
        return Outside(beyond, run)
    hasty = too_quick(product.machine, driver, run.scenario, until_us=run.difference.at_us)
    if not hasty:
        return Outside(beyond, run)
    free = {Assumed.CAREFUL, Assumed.APART} if beyond is Assumed.CAREFUL else {beyond}
    base = [assumed for assumed in Assumed if assumed not in free]
    real = hunt(driver, shadow, product.machine, base=base, runs=_REAL_RUNS).found
    return Outside(beyond, run, hasty=hasty) if real is None else Outside(beyond, real.run)


def _beyond(
    product: Product, searched: dict[World, Explored], world: World, assumption: Assumed, strictest: World
) -> tuple[World, Explored]:
    """Where two differ without one assumption: with all the others made if that shows it, which is the plainest."""
    plainest = strictest.without(Assumed.CAREFUL if assumption is Assumed.APART else assumption)
    explored = searched.get(plainest) or explore(product, plainest, most=_QUICK_ZONES)
    if explored.ending is Ending.DIFFERS:
        return plainest, explored
    wider = world.without(assumption)
    return wider, searched[wider]


def _shown(product: Product, driver: Logic, shadow: Logic, explored: Explored, world: World) -> Run | None:
    """The run to a difference, replayed; None where the simulator does not see it. At the pace of a person if that
    shows it as well and keeps to what is assumed."""
    assert explored.last is not None
    try:
        exact = scenario_of(product, explored.last, world, "the shortest run that differs")
    except Untimed:
        return None
    machine = product.machine

    def run_of(scenario: Scenario) -> Run:
        return simulate(machine, driver, scenario, shadow=shadow, after_us=_AFTER_US)

    run = run_of(natural(machine, exact, world))
    if run.difference is None or not keeps(run, machine, world):
        run = run_of(exact)
    return None if run.difference is None else run_of(_cut(run.scenario, run.difference.at_us))


def _cut(scenario: Scenario, until_us: int) -> Scenario:
    events = tuple(e for e in scenario.events if e.at_us <= until_us)
    return scenario.model_copy(update={"events": events, "duration_us": until_us + _AFTER_US})
