"""A circuit written out as straight-line Python: what one round makes of a state, and the loads of a stable one.

Names of devices never enter the text: inputs are ``a0``, relays ``r0``, timers' phases ``p0``, latching relays ``l0``
and counters ``c0``, each by its place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from compiler.logic import Bits
from compiler.timers import Phase, TimerKind, advance, operated
from grammar.rungs.tree import Circuit, Contact, Device, Form, Kind, Network, Parallel, Series, Terminal

__all__ = ["Outputs", "Round", "State", "compiled", "count_of", "of_kind", "timer_kind"]

State = tuple[int, ...]
Round = Callable[[State, Bits, frozenset[int], set[int]], State]
Outputs = Callable[[State, Bits], Bits]


def compiled(circuit: Circuit, inputs: tuple[str, ...], outputs: tuple[str, ...]) -> tuple[Round, Outputs]:
    """The two functions of a circuit."""
    source = "\n".join(_source(_Wiring.of(circuit, inputs), inputs, outputs))
    scope: dict[str, Any] = {f"T{k}": _table(kind) for k, kind in enumerate(TimerKind)}
    exec(compile(source, "<rung list>", "exec"), scope)  # the text is ours: names of devices never enter it
    return scope["one_round"], scope["outputs"]


def of_kind(circuit: Circuit, kind: Kind) -> tuple[Device, ...]:
    """The devices of one kind, in the order of a state."""
    return tuple(device for device in circuit.devices if device.kind is kind)


def timer_kind(device: Device) -> TimerKind:
    """The function of a timer."""
    return TimerKind(str(device.function))


def count_of(device: Device) -> int:
    """The count at which a counter operates."""
    if device.preset is None:
        raise ValueError(f"the counter {device.name.text} has no preset")
    return int(device.preset.number)


def _table(kind: TimerKind) -> tuple[int, ...]:
    """``advance`` as a table: index phase*4 + energised*2 + expired, value phase*2 + started."""
    turns = [advance(kind, phase, on, over) for phase in Phase for on in (False, True) for over in (False, True)]
    return tuple(turn.phase * 2 + turn.started for turn in turns)


@dataclass(frozen=True, slots=True)
class _Wiring:
    """Devices by folded name, the variable of each that has contacts, and what feeds each terminal."""

    circuit: Circuit
    devices: dict[str, Device]
    variables: dict[str, str]
    fed: dict[tuple[str, Terminal], Network]

    @classmethod
    def of(cls, circuit: Circuit, inputs: tuple[str, ...]) -> _Wiring:
        variables = {name.casefold(): f"a{k}" for k, name in enumerate(inputs)}
        for kind, letter in _LETTERS.items():
            variables |= {d.name.text.casefold(): f"{letter}{k}" for k, d in enumerate(of_kind(circuit, kind))}
        devices = {d.name.text.casefold(): d for d in circuit.devices}
        fed = {(f.name.text.casefold(), f.terminal): rung.network for rung in circuit.rungs for f in rung.feeds}
        return cls(circuit, devices, variables, fed)

    def coil(self, name: str, terminal: Terminal, unfed: str) -> str:
        """When a terminal is live, as an expression; ``unfed`` when no rung feeds it."""
        network = self.fed.get((name.casefold(), terminal))
        return unfed if network is None else self._expression(network)

    def _expression(self, network: Network) -> str:
        match network:
            case Contact(name=name, form=form):
                folded = name.text.casefold()
                return _contact(self.devices[folded], form, self.variables[folded])
            case Series(parts=()):
                return "True"
            case Series(parts=parts):
                return f"({' and '.join(map(self._expression, parts))})"
            case Parallel(parts=parts):
                return f"({' or '.join(map(self._expression, parts))})"


_LETTERS = {Kind.RELAY: "r", Kind.TIMER: "p", Kind.LATCHING_RELAY: "l", Kind.COUNTER: "c"}


def _source(wiring: _Wiring, inputs: tuple[str, ...], outputs: tuple[str, ...]) -> Iterator[str]:
    coils = [_coil(wiring, device, k) for kind in _LETTERS for k, device in enumerate(of_kind(wiring.circuit, kind))]
    variables = [wiring.variables[d.name.text.casefold()] for kind in _LETTERS for d in of_kind(wiring.circuit, kind)]
    # "pass" and the trailing commas keep the text well-formed when a circuit has no coils, inputs or loads.
    unpack = [f"    ({''.join(f'{v}, ' for v in variables)}) = s" if variables else "    pass"]
    unpack += [f"    ({''.join(f'a{k}, ' for k in range(len(inputs)))}) = i"] if inputs else []
    yield from ["def one_round(s, i, e, started):", *unpack]
    for lines, _ in coils:
        yield from (f"    {line}" for line in lines)
    yield f"    return ({''.join(f'{following}, ' for _, following in coils)})"
    yield from ["def outputs(s, i):", *unpack]
    loads = [wiring.coil(name, Terminal.COIL, "False") for name in outputs]
    yield f"    return ({''.join(f'{load}, ' for load in loads)})"


def _coil(wiring: _Wiring, device: Device, k: int) -> tuple[list[str], str]:
    """The lines that work out the next state of a device, and the expression for it."""
    name = device.name.text
    match device.kind:
        case Kind.LATCHING_RELAY:
            latch, unlatch = (wiring.coil(name, t, "False") for t in (Terminal.LATCH, Terminal.UNLATCH))
            return [f"m{k} = (l{k} or {latch}) and not {unlatch}"], f"m{k}"
        case Kind.COUNTER:
            return _counter(wiring, device, k)
        case Kind.TIMER:
            return _timer(wiring, device, k)
        case _:
            return [f"n{k} = {wiring.coil(name, Terminal.COIL, 'False')}"], f"n{k}"


def _timer(wiring: _Wiring, timer: Device, k: int) -> tuple[list[str], str]:
    """The next phase of a timer: without its supply it is reset at once, whatever it was doing."""
    name = timer.name.text
    supply = wiring.coil(name, Terminal.SUPPLY, "True")
    fed = wiring.coil(name, Terminal.COIL, "")
    control = fed or wiring.coil(name, Terminal.CONTROL, "True" if supply != "True" else "False")
    table = list(TimerKind).index(timer_kind(timer))
    following = f"q{k} = T{table}[p{k} * 4 + ({control}) * 2 + ({k} in e)] if {supply} else 0"
    return [following, f"if q{k} & 1: started.add({k})"], f"q{k} >> 1"


def _counter(wiring: _Wiring, counter: Device, k: int) -> tuple[list[str], str]:
    """The next state of a counter: twice its count, and 1 more while its count coil is live.

    It counts as the coil becomes live, up to its preset and no further; nothing is counted while it is being reset.
    """
    name, most = counter.name.text, 2 * count_of(counter)
    live = f"g{k} = {wiring.coil(name, Terminal.COUNT, 'False')}"
    counted = f"d{k} = (c{k} if c{k} & 1 else c{k} + (3 if c{k} < {most} else 1)) if g{k} else c{k} & -2"
    return [live, counted, f"if {wiring.coil(name, Terminal.RESET, 'False')}: d{k} = g{k} & 1"], f"d{k}"


def _contact(device: Device, form: Form, variable: str) -> str:
    match device.kind:
        case Kind.TIMER:
            phases = tuple(int(phase) for phase in Phase if _closed(timer_kind(device), form, phase))
            return f"({variable} in {phases})"
        case Kind.COUNTER:
            return f"({variable} {'>=' if form is Form.NO else '<'} {2 * count_of(device)})"
        case _:
            return variable if form is Form.NO else f"(not {variable})"


def _closed(kind: TimerKind, form: Form, phase: Phase) -> bool:
    """Whether a timer's contact is closed. NO and NC of an on-delay and an off-delay follow its input at once."""
    match form:
        case Form.NO:
            return _instant(kind, phase)
        case Form.NC:
            return not _instant(kind, phase)
        case Form.NOTC | Form.NOTO:
            return operated(kind, phase)
        case Form.NCTO | Form.NCTC:
            return not operated(kind, phase)


def _instant(kind: TimerKind, phase: Phase) -> bool:
    match kind:
        case TimerKind.ON_DELAY:
            return phase is not Phase.IDLE
        case TimerKind.OFF_DELAY:
            return phase is Phase.DONE
        case TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE:
            return operated(kind, phase)
