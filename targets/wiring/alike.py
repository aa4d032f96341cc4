"""Whether a circuit made again from its lists is the circuit they were printed from.

Two circuits are the same when every coil stands behind the same contacts, in series and side by side; what comes
first in a series, or stands above, does not matter, nor how coils behind the same contacts are put into rungs.
"""

from __future__ import annotations

from collections.abc import Iterator

from grammar.rungs.tree import Circuit, Contact, Device, Network, Parallel, Series
from targets.wiring.lists import Sheet, as_csv
from targets.wiring.read import NoCircuit, circuit_of_lists
from targets.wiring.terminals import coil_ends

__all__ = ["lists_unlike", "unlike"]

Shape = tuple[str, tuple["Shape", ...]]


def lists_unlike(circuit: Circuit, lists: tuple[Sheet, ...]) -> tuple[str, ...]:
    """Where the circuit read back from its wiring list and device list is not the one they were printed from."""
    text = {sheet.key: as_csv(sheet) for sheet in lists}
    try:
        again = circuit_of_lists(text["wires"], text["devices"])
    except NoCircuit as none:
        return none.faults
    return tuple(unlike(circuit, again))


def unlike(circuit: Circuit, other: Circuit) -> Iterator[str]:
    """Every device and every coil in which two circuits differ, in plain words."""
    ours, theirs = _devices(circuit), _devices(other)
    for name in dict.fromkeys([*ours, *theirs]):
        if ours.get(name) != theirs.get(name):
            yield f"{name} is not the same device"
    before, after = _fed(circuit), _fed(other)
    for coil in dict.fromkeys([*before, *after]):
        if before.get(coil) != after.get(coil):
            yield f"{coil[0]}:{coil[1]} does not stand behind the same contacts"


def _devices(circuit: Circuit) -> dict[str, tuple[object, ...]]:
    """The devices with contacts or coils, by folded name."""
    return {d.name.text.casefold(): (d.kind, d.function, d.preset) for d in circuit.devices}


def _fed(circuit: Circuit) -> dict[tuple[str, str], Shape]:
    """By name and terminal of every coil, the contacts before it."""
    devices: dict[str, Device] = {d.name.text.casefold(): d for d in circuit.devices}
    found = {}
    for rung in circuit.rungs:
        shape = _shape(rung.network)
        for feed in rung.feeds:
            name = feed.name.text.casefold()
            found[name, coil_ends(devices[name].kind, feed.terminal)[0]] = shape
    return found


def _shape(network: Network) -> Shape:
    """A network with its order taken out: what is in series and what side by side, nested ones of a kind as one."""
    match network:
        case Contact(name=name, form=form):
            return f"{name.text.casefold()} {form}", ()
        case Series(parts=parts) | Parallel(parts=parts):
            kind = type(network).__name__
            inner = [_shape(part) for part in parts]
            flat = [each for part in inner for each in (part[1] if part[0] == kind else (part,))]
            return flat[0] if len(flat) == 1 else (kind, tuple(sorted(flat)))
