"""The canonical text of a rung list: one device a line, one rung a line, comments where they belong."""

from __future__ import annotations

from collections.abc import Iterator

from grammar.rungs.tree import (
    Circuit,
    Comments,
    Contact,
    Device,
    Feed,
    Form,
    Kind,
    Master,
    Name,
    Network,
    Parallel,
    Rung,
    Series,
    shared,
)
from grammar.rungs.words import plain_name

__all__ = ["write", "write_network"]

_INDENT = "    "


def write(circuit: Circuit) -> str:
    """The text of a circuit. ``read`` of it gives the circuit again, comments included."""
    return "\n".join(_lines(circuit)) + "\n"


def _lines(circuit: Circuit) -> Iterator[str]:
    if circuit.title:
        yield f'circuit "{circuit.title}"'
        yield from map(_comment, circuit.notes)
        yield ""
    declared = [device for device in circuit.devices if not device.implied]
    for device in declared:
        yield from _with_comments(_device(device), device.comments)
    yield from _rungs(circuit.rungs, gap=bool(declared))
    if circuit.comments_below:
        if declared or circuit.rungs:
            yield ""
        yield from map(_comment, circuit.comments_below)


def _rungs(rungs: tuple[Rung, ...], *, gap: bool) -> Iterator[str]:
    """Rungs in the groups of their masters. A blank line stands before the first (when ``gap``), before one with
    comments above it, and on either side of a group."""
    inside: tuple[Master, ...] = ()
    for k, rung in enumerate(rungs):
        common = shared(inside, rung.masters)
        yield from _ends(inside[common:], depth=common)
        opened = rung.masters[common:]
        if gap if k == 0 else bool(rung.comments.above and not opened) or inside[common:] or opened:
            yield ""
        for depth, master in enumerate(opened, start=common):
            yield from _with_comments(f"master {write_network(master.network)}:", master.comments, depth)
        inside = rung.masters
        yield from _with_comments(_rung(rung), rung.comments, len(inside))
    yield from _ends(inside, depth=0)


def _ends(masters: tuple[Master, ...], *, depth: int) -> Iterator[str]:
    for below in reversed(range(len(masters))):
        ending = masters[below].ending
        yield from (_INDENT * (depth + below + 1) + _comment(text) for text in ending.above)
        yield from _with_comments("end master", Comments((), ending.beside), depth + below)


def _comment(text: str) -> str:
    return f"# {text}" if text else "#"


def _with_comments(line: str, comments: Comments, depth: int = 0) -> Iterator[str]:
    indent = _INDENT * depth
    yield from (indent + _comment(text) for text in comments.above)
    yield f"{indent}{line}  {_comment(comments.beside)}" if comments.beside else indent + line


def _device(device: Device) -> str:
    line = f"{device.kind} {_name(device.name)}"
    if device.preset is None:
        return line
    if device.kind is Kind.COUNTER:
        return f"{line}, preset {device.preset.number}"
    return f"{line}, {device.function} {device.preset.number} {device.preset.unit}"


def _rung(rung: Rung) -> str:
    network = write_network(rung.own)
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
