"""Every circuit that is one element away from a given one: the mistakes of a slip of the pen or a slack screw."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

from grammar.rungs.judge import microseconds
from grammar.rungs.tree import (
    INPUTS,
    Circuit,
    Contact,
    Device,
    Feed,
    Form,
    Network,
    Parallel,
    Preset,
    Rung,
    Series,
    Terminal,
    contacts,
)

__all__ = ["KINDS", "Spoilt", "spoilt"]

KINDS = ("NO for NC", "cut", "shorted", "seal-in cut", "preset", "coils swapped")

Spoilt = tuple[str, str, Circuit]
"""The kind of change, what was changed in words, and the circuit."""

_OPPOSITE = {
    Form.NO: Form.NC,
    Form.NC: Form.NO,
    Form.NOTC: Form.NCTO,
    Form.NCTO: Form.NOTC,
    Form.NOTO: Form.NCTC,
    Form.NCTC: Form.NOTO,
}


def spoilt(circuit: Circuit, *, preset_by_us: int) -> Iterator[Spoilt]:
    """Each contact turned, cut open and shorted; each preset off by so much either way; each two coils swapped."""
    for place, rung in enumerate(circuit.rungs):
        own = {feed.name.text.casefold() for feed in rung.feeds}
        for k, contact in enumerate(contacts(rung.network)):
            what = f"{contact.name.text} {contact.form} in rung {rung.number}"
            turned = replace(contact, form=_OPPOSITE[contact.form])
            yield "NO for NC", what, _with(circuit, place, _changed(rung.network, k, turned))
            seals = contact.name.text.casefold() in own and contact.form is Form.NO
            yield "seal-in cut" if seals else "cut", what, _with(circuit, place, _changed(rung.network, k, None))
            yield "shorted", what, _with(circuit, place, _changed(rung.network, k, Series(())))
    for device in circuit.devices:
        if device.preset is not None:
            yield from _presets(circuit, device, preset_by_us)
    yield from _swapped(circuit)


def _with(circuit: Circuit, place: int, network: Network | None) -> Circuit:
    rung = replace(circuit.rungs[place], network=_never(circuit) if network is None else network)
    return replace(circuit, rungs=(*circuit.rungs[:place], rung, *circuit.rungs[place + 1 :]))


def _never(circuit: Circuit) -> Network:
    """A network that conducts at no time; the rung stays, for an unfed terminal would mean something else."""
    name = next(device.name for device in circuit.devices if device.kind in INPUTS)
    return Series((Contact(name, Form.NO), Contact(name, Form.NC)))


def _changed(network: Network, k: int, instead: Network | None) -> Network | None:
    """The network with its contact number ``k`` replaced; None conducts at no time, an empty series always."""
    match network:
        case Contact():
            return instead if k == 0 else network
        case Series(parts=parts):
            inner = _each(parts, k, instead)
            kept = [part for part in inner if part != Series(())]
            return None if None in kept else _one_or(Series, [part for part in kept if part is not None])
        case Parallel(parts=parts):
            inner = _each(parts, k, instead)
            if Series(()) in inner:
                return Series(())
            closed = [part for part in inner if part is not None]
            return _one_or(Parallel, closed) if closed else None


def _each(parts: tuple[Network, ...], k: int, instead: Network | None) -> list[Network | None]:
    changed: list[Network | None] = []
    for part in parts:
        changed.append(_changed(part, k, instead))
        k -= len(contacts(part))
    return changed


def _one_or(kind: type[Series] | type[Parallel], parts: list[Network]) -> Network:
    return parts[0] if len(parts) == 1 else kind(tuple(parts))


def _presets(circuit: Circuit, device: Device, by_us: int) -> Iterator[Spoilt]:
    """A time off by so much, a count off by one."""
    assert device.preset is not None
    counts = not device.preset.unit
    preset = int(device.preset.number) if counts else microseconds(device.preset)
    assert preset is not None
    unit, by = ("", 1) if counts else ("us", by_us)
    for changed in (preset + by, preset - by):
        if changed > 0:
            other = replace(device, preset=Preset(str(changed), unit))
            devices = tuple(other if d is device else d for d in circuit.devices)
            yield "preset", f"{device.name.text} {changed} {unit}".rstrip(), replace(circuit, devices=devices)


def _swapped(circuit: Circuit) -> Iterator[Spoilt]:
    coils = [
        (place, k)
        for place, rung in enumerate(circuit.rungs)
        for k, feed in enumerate(rung.feeds)
        if feed.terminal is Terminal.COIL
    ]
    for (a, i), (b, j) in combinations(coils, 2):
        if a == b:
            continue
        rungs = list(circuit.rungs)
        one, other = rungs[a].feeds[i], rungs[b].feeds[j]
        rungs[a], rungs[b] = _fed(rungs[a], i, other), _fed(rungs[b], j, one)
        yield "coils swapped", f"{one.name.text} and {other.name.text}", replace(circuit, rungs=tuple(rungs))


def _fed(rung: Rung, k: int, feed: Feed) -> Rung:
    return replace(rung, feeds=(*rung.feeds[:k], feed, *rung.feeds[k + 1 :]))
