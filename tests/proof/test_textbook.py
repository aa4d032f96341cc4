"""Textbook timed automata on the proof's own zone operations, whose verdicts are published.

Only clocks that matter are kept, and every one of them has a limit, as in the proof: so nothing need be rounded off.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from compiler.proof.zone import Zone, at_least, at_most, choice, covers, delay, less_than, more_than, start, tighten

Location = tuple[Any, ...]


@dataclass(frozen=True)
class Edge:
    """A move: ``clock name: bounds``, as (row is the clock, bound) for upper and (row is 0, bound) for lower ones."""

    target: Location
    upper: dict[str, int] = field(default_factory=dict)
    lower: dict[str, int] = field(default_factory=dict)
    starts: frozenset[str] = frozenset()


Edges = Callable[[Location], Iterator[Edge]]
Limits = Callable[[Location], dict[str, int]]


def reachable(first: Location, edges: Edges, limits: Limits, bad: Callable[[Location], bool]) -> bool:
    """Whether a bad location can be reached. ``limits`` names the clocks that run in a location."""
    names = tuple(limits(first))
    met: dict[Location, list[Zone]] = {}
    queue = deque([(first, start(len(names)))])
    while queue:
        location, entry = queue.popleft()
        running = limits(location)
        place = {name: k for k, name in enumerate(running, start=1)}
        size = len(running) + 1
        zone = delay(entry, size, tuple((place[name], limit) for name, limit in running.items()))
        if zone is None or any(covers(other, zone) for other in met.get(location, ())):
            continue
        if bad(location):
            return True
        met[location] = [other for other in met.get(location, ()) if not covers(zone, other)] + [zone]
        for edge in edges(location):
            inside: Zone | None = zone
            for name, bound in edge.upper.items():
                inside = inside and tighten(inside, size, place[name], 0, bound)
            for name, bound in edge.lower.items():
                inside = inside and tighten(inside, size, 0, place[name], bound)
            if inside is not None:
                kept = [0 if name in edge.starts else place.get(name, 0) for name in limits(edge.target)]
                queue.append((edge.target, choice(kept, size)(inside)))
    return False


def _fischer(processes: int, write_by: int, wait: int, *, strict: bool) -> bool:
    """Whether two processes can be inside together. L. Lamport, "A fast mutual exclusion algorithm", ACM TOCS 1987,
    gives it as M. Fischer's; as timed automata in many papers since (all from memory).

    A process that finds the lock free (0) writes its number at most ``write_by`` later, waits (at least ``wait``, or
    ``strict``: longer), and enters if the number is still its own. Location: the lock and each process's state.
    """

    def limits(location: Location) -> dict[str, int]:
        _, *states = location
        running = {"wants": write_by, "waits": wait + strict}
        return {f"x{k}": running[state] for k, state in enumerate(states, start=1) if state in running}

    def edges(location: Location) -> Iterator[Edge]:
        lock, *states = location

        def to(k: int, state: str, now: int) -> tuple[object, ...]:
            return (now, *states[: k - 1], state, *states[k:])

        for k, state in enumerate(states, start=1):
            clock = f"x{k}"
            anew = frozenset({clock})
            match state:
                case "idle" if lock == 0:
                    yield Edge(to(k, "wants", lock), starts=anew)
                case "wants":
                    yield Edge(to(k, "waits", k), starts=anew)
                case "waits":
                    yield Edge(to(k, "waited", lock), lower={clock: more_than(wait) if strict else at_least(wait)})
                case "waited" if lock == k:
                    yield Edge(to(k, "inside", lock))
                case "waited":
                    yield Edge(to(k, "idle", lock))
                case "inside":
                    yield Edge(to(k, "idle", 0))

    first = (0, *["idle"] * processes)
    return reachable(first, edges, limits, lambda at: at.count("inside") > 1)


@pytest.mark.parametrize("processes", [2, 3])
@pytest.mark.parametrize(("write_by", "wait"), [(1, 2), (2, 3), (3, 7), (2, 2), (3, 2), (7, 3)])
def test_fischer_excludes_just_when_writing_is_quicker_than_waiting(processes: int, write_by: int, wait: int) -> None:
    """Mutual exclusion holds if and only if the delay of a write is less than the wait; when the wait is longer than
    its bound, equal is enough."""
    assert _fischer(processes, write_by, wait, strict=False) == (not write_by < wait)
    assert _fischer(processes, write_by, wait, strict=True) == (not write_by <= wait)


def _crossing(train: int, controller: int, gate: int, *, raises: int = 2) -> bool:
    """Whether a train can be in the crossing while the gate is not down. R. Alur and D. L. Dill, "A theory of timed
    automata", TCS 126, 1994 (from memory): there the train is in more than 2 after its signal and gone before 5,
    the controller passes the signal on after exactly 1, the gate is down in less than 1 and up in between 1 and 2.

    Told here also of a next train while the gate goes up. Location: train, controller, gate.
    """
    train_by = max(5, train + 3)

    def limits(location: Location) -> dict[str, int]:
        at, told, gates = location
        running = {"x": train_by} if at != "far" else {}
        running |= {"near": {"z": controller}, "gone": {"z": 1}}.get(told, {})
        return running | {"lowering": {"y": gate}, "raising": {"y": raises}}.get(gates, {})

    def edges(location: Location) -> Iterator[Edge]:
        at, told, gates = location
        match at:
            case "far" if told == "idle":
                yield Edge(("near", "near", gates), starts=frozenset("xz"))
            case "near":
                yield Edge(("in", told, gates), lower={"x": more_than(train)})
            case "in":
                yield Edge(("past", told, gates))
            case "past" if told == "idle":
                yield Edge(("far", "gone", gates), upper={"x": less_than(train_by)}, starts=frozenset("z"))
        match told:
            case "near":
                exactly = {"z": at_most(controller)}, {"z": at_least(controller)}
                yield Edge((at, "idle", gates if gates == "down" else "lowering"), *exactly, starts=frozenset("y"))
            case "gone":
                up = gates if gates == "up" else "raising"
                yield Edge((at, "idle", up), {"z": less_than(1)}, starts=frozenset("y"))
        match gates:
            case "lowering":
                yield Edge((at, told, "down"), {"y": less_than(gate)})
            case "raising":
                yield Edge((at, told, "up"), {"y": less_than(raises)}, {"y": more_than(1)})

    def bad(location: Location) -> bool:
        at, _, gates = location
        return bool(at == "in" and gates != "down")

    return reachable(("far", "idle", "up"), edges, limits, bad)


def test_no_train_is_ever_in_the_crossing_with_the_gate_up() -> None:
    """The published numbers: 1 and less than 1 are less than the 2 that the train takes more than."""
    assert not _crossing(train=2, controller=1, gate=1)


@pytest.mark.parametrize(
    ("train", "controller", "gate"), [(2, 1, 1), (3, 1, 2), (3, 2, 1), (2, 2, 1), (2, 1, 2), (1, 1, 1), (4, 1, 1)]
)
def test_the_crossing_is_safe_just_when_signal_and_gate_are_quicker_than_the_train(
    train: int, controller: int, gate: int
) -> None:
    assert _crossing(train, controller, gate) == (controller + gate > train)
