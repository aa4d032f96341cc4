"""All places a circuit may come to, the long way round: names, dictionaries and a general-purpose graph library.

Shares nothing with compiler/races but the tree, what a timer's clock does (``compiler.timers``, tested on its own),
and the rules: contacts break before they make, a relay moves only while it is asked to, and what is asked all along
is done some day. Every relay here has four places, whatever contacts it has; every timer has all its contacts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import networkx as nx  # type: ignore[import-untyped]

from compiler.logic import Bits
from compiler.machine import Machine
from compiler.races import Stimulus
from compiler.timers import Phase, TimerKind, advance
from grammar.rungs.tree import INPUTS, Circuit, Contact, Device, Form, Kind, Network, Parallel, Series, Terminal

__all__ = ["Naive", "Place", "TooMany"]

_Where = dict[tuple[str, str], Any]
Place = frozenset[tuple[str, str, Any]]
"""For every device what of it is where: (device, "contacts", "going in")."""

_OUT, _GOING_IN, _IN, _GOING_OUT = "out", "going in", "in", "going out"
_MOST = 3_000


class TooMany(Exception):
    """More places than a test has time for."""


@dataclass
class Naive:
    """A circuit and its machine, with everything looked up by name in lower case."""

    circuit: Circuit
    machine: Machine

    # --- a single place ---------------------------------------------------------------------------------------

    def conducts(self, network: Network, where: _Where) -> bool:
        if isinstance(network, Series):
            return all(self.conducts(part, where) for part in network.parts)
        if isinstance(network, Parallel):
            return any(self.conducts(part, where) for part in network.parts)
        assert isinstance(network, Contact)
        device = self.circuit.device(network.name.text)
        assert device is not None
        waits = device.kind is Kind.TIMER and network.form not in (Form.NO, Form.NC)
        stands = where[device.name.text.lower(), "timed contacts" if waits else "contacts"]
        makes = network.form in (Form.NO, Form.NOTC, Form.NOTO)
        return bool(stands == (_IN if makes else _OUT))

    def fed(self, name: str, terminal: Terminal, where: _Where) -> bool | None:
        """Whether a terminal has current; None when no rung feeds it."""
        for rung in self.circuit.rungs:
            for feed in rung.feeds:
                if feed.name.text.lower() == name.lower() and feed.terminal is terminal:
                    return self.conducts(rung.network, where)
        return None

    def outputs(self, place: Place) -> Bits:
        where = _where(place)
        return tuple(bool(self.fed(load.name, Terminal.COIL, where)) for load in self.machine.loads)

    def _clock(self, name: str, where: _Where, *, expired: bool) -> tuple[Phase, bool]:
        """Where a clock goes now: its phase, and whether it has begun again since the stimulus."""
        device = self.circuit.device(name)
        assert device is not None
        assert device.function is not None
        phase, anew = where[name, "clock"]
        coil = self.fed(name, Terminal.COIL, where)
        supply = self.fed(name, Terminal.SUPPLY, where)
        control = self.fed(name, Terminal.CONTROL, where)
        if supply is False:
            return Phase.IDLE, False
        energised = coil if coil is not None else control if control is not None else supply is True
        turn = advance(TimerKind(device.function.value), phase, bool(energised), expired)
        return turn.phase, turn.phase in (Phase.RUNNING, Phase.RELEASED) and (turn.started or anew)

    def asked(self, name: str, what: str, where: _Where, inputs: dict[str, bool]) -> bool:
        """Whether contacts are asked to be in."""
        device = self.circuit.device(name)
        if device is None or device.kind in INPUTS:
            return inputs[name]
        if device.kind is Kind.COUNTER:
            assert device.preset is not None
            return bool(where[name, "count"][0] >= int(device.preset.number))
        if device.kind is Kind.RELAY:
            return bool(self.fed(name, Terminal.COIL, where))
        phase, _ = where[name, "clock"]
        pulses = device.function is not None and "one-shot" in device.function.value
        on_delay = device.function is not None and device.function.value == "on-delay"
        if pulses:
            return phase in (Phase.RUNNING, Phase.RELEASED)
        if what == "timed contacts":
            return phase is Phase.DONE if on_delay else phase in (Phase.RUNNING, Phase.DONE)
        return phase is not Phase.IDLE if on_delay else phase is Phase.DONE

    # --- from place to place ----------------------------------------------------------------------------------

    def onward(self, place: Place, inputs: dict[str, bool]) -> Iterator[tuple[str, Place]]:
        """Every move: who makes it, and where that leads."""
        where = _where(place)
        for (name, what), stands in where.items():
            device = self.circuit.device(name)
            choices: list[Any]
            if what == "clock":
                choices = [self._clock(name, where, expired=False)]
            elif what == "count":
                choices = [self._count(name, where)]
            elif device is not None and device.kind is Kind.LATCHING_RELAY:
                choices = [_swing(stands, on) for on in self._latched(name, where)]
            else:
                choices = [_swing(stands, self.asked(name, what, where, inputs))]
            for follows in choices:
                if follows != stands:
                    yield f"{name} {what} {follows}", _place(where | {(name, what): follows})

    def _latched(self, name: str, where: _Where) -> list[bool]:
        """To which sides a latching relay may go: one that is between them without current may go to either."""
        if self.fed(name, Terminal.UNLATCH, where):
            return [False]
        if self.fed(name, Terminal.LATCH, where):
            return [True]
        stands = where[name, "contacts"]
        return [stands == _IN] if stands in (_IN, _OUT) else [True, False]

    def _count(self, name: str, where: _Where) -> tuple[int, bool]:
        """The count, and whether its coil is live."""
        device = self.circuit.device(name)
        assert device is not None
        assert device.preset is not None
        count, was_live = where[name, "count"]
        live = bool(self.fed(name, Terminal.COUNT, where))
        if self.fed(name, Terminal.RESET, where):
            return 0, live
        return (min(count + 1, int(device.preset.number)) if live and not was_live else count), live

    def before(self, stimulus: Stimulus) -> Place | None:
        return None if stimulus.before is None else self._settled(stimulus.before, stimulus.was)

    def start(self, stimulus: Stimulus) -> Place:
        idle = (0,) * len(self._kept())
        before = idle if stimulus.before is None else stimulus.before
        where = _where(self._settled(before, stimulus.inputs))
        timers = [d.name.text.lower() for d in self.circuit.devices if d.kind is Kind.TIMER]
        overdue = {(timers[k], "clock"): self._clock(timers[k], where, expired=True) for k in stimulus.expired}
        where |= overdue
        used = {(c.name.text.lower(), c.form) for c in self._contacts()}
        if stimulus.before is not None:
            for device, old, new in zip(self.machine.inputs, stimulus.was, stimulus.inputs, strict=True):
                name = device.name.lower()
                if old != new and {(name, Form.NO), (name, Form.NC)} <= used:
                    where[name, "contacts"] = _GOING_IN if new else _GOING_OUT
        return _place(where)

    def graph(self, stimulus: Stimulus) -> nx.MultiDiGraph:
        """Every place that can be come to, and every move."""
        inputs = {d.name.lower(): on for d, on in zip(self.machine.inputs, stimulus.inputs, strict=True)}
        graph = nx.MultiDiGraph()
        waiting = [self.start(stimulus)]
        graph.add_node(waiting[0])
        while waiting:
            place = waiting.pop()
            for who, following in self.onward(place, inputs):
                if following not in graph:
                    waiting.append(following)
                graph.add_edge(place, following, who=who)
            if len(graph) > _MOST:
                raise TooMany
        return graph

    def told(self, place: Place) -> tuple[tuple[object, ...], frozenset[int]]:
        """A place at rest as a state of the circuit's Logic, and the clocks that began again."""
        where = _where(place)
        state: list[object] = []
        for device in self._kept():
            name = device.name.text.lower()
            if device.kind is Kind.TIMER:
                state.append(where[name, "clock"][0])
            elif device.kind is Kind.COUNTER:
                count, live = where[name, "count"]
                state.append(2 * count + live)
            else:
                state.append(where[name, "contacts"] == _IN)
        clocks = [where[d.name.text.lower(), "clock"] for d in self._kept() if d.kind is Kind.TIMER]
        return tuple(state), frozenset(k for k, (_, anew) in enumerate(clocks) if anew)

    def _settled(self, state: object, inputs: Bits) -> Place:
        assert isinstance(state, tuple)
        where: _Where = {}
        for device, on in zip(self.machine.inputs, inputs, strict=True):
            where[device.name.lower(), "contacts"] = _IN if on else _OUT
        for kept, value in zip(self._kept(), state, strict=True):
            name = kept.name.text.lower()
            if kept.kind is Kind.COUNTER:
                where[name, "count"] = (value // 2, value % 2 == 1)
                where[name, "contacts"] = _IN if self.asked(name, "contacts", where, {}) else _OUT
            elif kept.kind is Kind.TIMER:
                where[name, "clock"] = (Phase(value), False)
                for what in ("contacts", "timed contacts"):
                    where[name, what] = _IN if self.asked(name, what, where, {}) else _OUT
            else:
                where[name, "contacts"] = _IN if value else _OUT
        return _place(where)

    def _kept(self) -> list[Device]:
        """What remembers something, in the order of a state."""
        order = (Kind.RELAY, Kind.TIMER, Kind.LATCHING_RELAY, Kind.COUNTER)
        return [device for kind in order for device in self.circuit.devices if device.kind is kind]

    def _contacts(self) -> Iterator[Contact]:
        waiting: list[Network] = [rung.network for rung in self.circuit.rungs]
        while waiting:
            network = waiting.pop()
            if isinstance(network, Contact):
                yield network
            else:
                waiting.extend(network.parts)


def _swing(stands: str, on: bool) -> str:
    """Where contacts go that are asked to be in, or out."""
    follows = {
        (_OUT, True): _GOING_IN,
        (_GOING_IN, True): _IN,
        (_GOING_IN, False): _OUT,
        (_IN, False): _GOING_OUT,
        (_GOING_OUT, False): _OUT,
        (_GOING_OUT, True): _IN,
    }
    return follows.get((stands, on), stands)


def _where(place: Place) -> _Where:
    return {(name, what): stands for name, what, stands in sorted(place, key=lambda part: part[:2])}


def _place(where: _Where) -> Place:
    return frozenset((name, what, stands) for (name, what), stands in where.items())
