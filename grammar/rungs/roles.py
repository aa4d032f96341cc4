"""What a name is that nobody declared: a device of the machine, or a relay by what feeds it.

A list typed from paper against a machine need not repeat what the machine has, and a coil that also has contacts can
only be a relay. What is still open after that is a fault, and ``judge`` tells it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Feed,
    Kind,
    Master,
    Name,
    Network,
    Parallel,
    Rung,
    Series,
    Terminal,
    contacts,
)

__all__ = ["completed"]


def completed(circuit: Circuit, machine: Iterable[Device] = ()) -> Circuit:
    """A circuit with a device for every name whose part is plain, and every name in the spelling of its device.

    ``machine`` are devices that need no declaration; only those in use are taken in.
    """
    looked_at: dict[str, Name] = {}
    fed: dict[str, list[Feed]] = {}
    for rung in circuit.rungs:
        for contact in contacts(rung.network):
            looked_at.setdefault(contact.name.text.casefold(), contact.name)
        for feed in rung.feeds:
            fed.setdefault(feed.name.text.casefold(), []).append(feed)
    known = {device.name.text.casefold() for device in circuit.devices}
    implied = []
    for device in machine:
        folded = device.name.text.casefold()
        if folded not in known and (folded in looked_at or folded in fed):
            known.add(folded)
            implied.append(device if device.implied else replace(device, implied=True))
    for folded, feeds in fed.items():
        kind = _kind({feed.terminal for feed in feeds}, used=folded in looked_at)
        if folded not in known and kind is not None:
            name = min(feeds[0].name, looked_at.get(folded, feeds[0].name), key=lambda name: name.span)
            implied.append(Device(kind, name, implied=True, span=name.span))
    return _spelled(replace(circuit, devices=(*circuit.devices, *implied)))


def _kind(fed: set[Terminal], *, used: bool) -> Kind | None:
    """A coil without contacts may be a load's or a slip of the pen; 'reset' alone may be a counter's."""
    if fed == {Terminal.COIL} and used:
        return Kind.RELAY
    if fed <= {Terminal.LATCH, Terminal.UNLATCH, Terminal.RESET} and fed != {Terminal.RESET}:
        return Kind.LATCHING_RELAY
    return None


def _spelled(circuit: Circuit) -> Circuit:
    devices = {d.name.text.casefold(): d for d in reversed(circuit.devices)}
    feeds = [feed for rung in circuit.rungs for feed in rung.feeds]
    written = {c.name.text for rung in circuit.rungs for c in contacts(rung.network)} | {f.name.text for f in feeds}
    declared = {d.name.text for d in devices.values()}
    if written <= declared and not any(f.terminal is Terminal.RESET for f in feeds):
        return circuit  # as most are

    def named(name: Name) -> Name:
        device = devices.get(name.text.casefold())
        return name if device is None or device.name.text == name.text else replace(name, text=device.name.text)

    def network(net: Network) -> Network:
        match net:
            case Contact(name=name):
                return net if named(name) is name else replace(net, name=named(name))
            case Series(parts=parts):
                return Series(tuple(map(network, parts)), span=net.span)
            case Parallel(parts=parts):
                return Parallel(tuple(map(network, parts)), span=net.span)

    def feed(fed: Feed) -> Feed:
        device = devices.get(fed.name.text.casefold())
        latching = device is not None and device.kind is Kind.LATCHING_RELAY
        terminal = Terminal.UNLATCH if latching and fed.terminal is Terminal.RESET else fed.terminal
        return replace(fed, name=named(fed.name), terminal=terminal)

    def master(group: Master) -> Master:
        return replace(group, network=network(group.network))

    def rung(written: Rung) -> Rung:
        masters = tuple(map(master, written.masters))
        return replace(
            written, network=network(written.network), feeds=tuple(map(feed, written.feeds)), masters=masters
        )

    return replace(circuit, rungs=tuple(map(rung, circuit.rungs)))
