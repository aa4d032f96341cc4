"""Pilot lights: loads that follow one input, whatever the cycle does."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from compiler.machine import LoadKind
from compiler.retell.desk import Desk

__all__ = ["Pilot", "pilots"]


@dataclass(frozen=True, slots=True)
class Pilot:
    """A load that is on while an input is actuated, or while it is not."""

    load: str
    device: str
    actuated: bool

    @property
    def told(self) -> str:
        """What it does, for a note."""
        state = "actuated" if self.actuated else "not actuated"
        return f"{self.load} is on whenever {self.device} is {state}; it is left out, and not compared"


def pilots(moments: Iterable[Desk]) -> tuple[Pilot, ...]:
    """The pilot lights among the loads, as far as some moments show, each with the input turned and turned back."""
    desks = list(moments)
    if not desks:
        return ()
    machine = desks[0].machine
    loads = [load.name for load in machine.loads if load.kind not in (LoadKind.SOLENOID, LoadKind.CONTACTOR)]
    found: dict[str, Pilot] = {}
    for device in machine.inputs:
        turned = [_turned(moment, device.name) for moment in desks]
        tried = [*desks, *turned, *(_turned(moment, device.name) for moment in turned)]
        for load in loads:
            same = {desk.is_actuated(device.name) is (load in desk.on()) for desk in tried}
            if len(same) == 1:
                found.setdefault(load, Pilot(load, device.name, same.pop()))
    return tuple(found.values())


def _turned(moment: Desk, device: str) -> Desk:
    desk = moment.twin()
    desk.act([(device, not desk.is_actuated(device))])
    return desk
