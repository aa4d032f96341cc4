"""Two logics as texts, and how they are wired to one machine."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from compiler.logic import Logic
from compiler.machine import End, Machine
from compiler.proof.induction.written import Written, written

__all__ = ["Pair"]


@dataclass(frozen=True, slots=True)
class Pair:
    """Two logics in a machine: for each, the places of its inputs among those of the machine, and for every load the
    place among its outputs, None for one that is never on. ``together`` are the places of inputs that may come on at
    one moment: limit switches that a rod reaches at one place of its way."""

    sides: tuple[Written, Written]
    picked: tuple[tuple[int, ...], tuple[int, ...]]
    driven: tuple[tuple[int | None, ...], tuple[int | None, ...]]
    inputs: int
    together: tuple[tuple[int, ...], ...]

    @property
    def counters(self) -> tuple[tuple[int, int], ...]:
        """The counters of charts, as parts of both, and how far each counts."""
        one, other = self.sides
        return (*one.counters, *((k + one.parts, most) for k, most in other.counters))

    @property
    def exclusive(self) -> dict[int, frozenset[int]]:
        """The steps of charts, as parts of both, and beside which steps of its chart none is ever active."""
        one, other = self.sides
        moved = {k + one.parts: frozenset(q + one.parts for q in qs) for k, qs in other.exclusive.items()}
        return {**one.exclusive, **moved}

    @classmethod
    def of(cls, driver: Logic, shadow: Logic, machine: Machine) -> Pair:
        places = {device.name: k for k, device in enumerate(machine.inputs)}
        picked = (tuple(places[n] for n in driver.inputs), tuple(places[n] for n in shadow.inputs))
        return cls(
            (written(driver), written(shadow)),
            picked,
            (_driven(driver, machine), _driven(shadow, machine)),
            len(places),
            tuple(_together(machine, places)),
        )


def _together(machine: Machine, places: dict[str, int]) -> Iterator[tuple[int, ...]]:
    """The places of limit switches that one rod reaches at one moment, where there are several."""
    for actuator in machine.actuators:
        at: dict[tuple[int, End], list[int]] = defaultdict(list)
        for switch in actuator.limit_switches:
            at[switch.at_um, switch.toward].append(places[switch.name])
        yield from (tuple(several) for several in at.values() if len(several) > 1)


def _driven(logic: Logic, machine: Machine) -> tuple[int | None, ...]:
    """For each load the place among the outputs; None for one that is never on."""
    places = {name: k for k, name in enumerate(logic.outputs)}
    return tuple(places.get(load.name) for load in machine.loads)
