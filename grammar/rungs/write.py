"""The canonical text of a rung list: one device a line, one rung a line, comments where they belong."""

from __future__ import annotations

from collections.abc import Iterator

from grammar.rungs.tree import Circuit, Comments, Contact, Device, Feed, Form, Name, Network, Parallel, Rung, Series
from grammar.rungs.words import plain_name

__all__ = ["write", "write_network"]


def write(circuit: Circuit) -> str:
    """The text of a circuit. ``read`` of it gives the circuit again, comments included."""
    return "\n".join(_lines(circuit)) + "\n"


def _lines(circuit: Circuit) -> Iterator[str]:
    if circuit.title:
        yield f'circuit "{circuit.title}"'
        yield from map(_comment, circuit.notes)
        yield ""
    for device in circuit.devices:
        yield from _with_comments(_device(device), device.comments)
    for k, rung in enumerate(circuit.rungs):
        if (k == 0 and circuit.devices) or (k > 0 and rung.comments.above):
            yield ""
        yield from _with_comments(_rung(rung), rung.comments)
    if circuit.comments_below:
        if circuit.devices or circuit.rungs:
            yield ""
        yield from map(_comment, circuit.comments_below)


def _comment(text: str) -> str:
    return f"# {text}" if text else "#"


def _with_comments(line: str, comments: Comments) -> Iterator[str]:
    yield from map(_comment, comments.above)
    yield f"{line}  {_comment(comments.beside)}" if comments.beside else line


def _device(device: Device) -> str:
    line = f"{device.kind} {_name(device.name)}"
    if device.function is not None and device.preset is not None:
        line += f", {device.function} {device.preset.number} {device.preset.unit}"
    return line


def _rung(rung: Rung) -> str:
    network = write_network(rung.network)
    fed = " and ".join(_feed(feed) for feed in rung.feeds)
    return f"rung {rung.number}: {network}, feeds {fed}" if network else f"rung {rung.number}: feeds {fed}"


def _feed(feed: Feed) -> str:
    return f"{_name(feed.name)} {feed.terminal}".rstrip()


def write_network(network: Network) -> str:
    """The words of a network, as they stand in a rung: commas for series, ``or`` for parallel branches."""
    match network:
        case Series(parts=parts):
            return ", ".join(_branch(part) for part in parts)
        case _:
            return _branch(network)


def _branch(network: Network) -> str:
    match network:
        case Parallel(parts=parts):
            return " or ".join(_bracketed(part) for part in parts)
        case Series(parts=parts):
            return " and ".join(_bracketed(part) for part in parts)
        case Contact(name=name, form=form):
            return _name(name) if form is Form.NO else f"{_name(name)} {form}"


def _bracketed(network: Network) -> str:
    return _branch(network) if isinstance(network, Contact) else f"({_branch(network)})"


def _name(name: Name) -> str:
    return name.text if plain_name(name.text) else f'"{name.text}"'
