"""A circuit drawn as a ladder for the terminal: rails, contacts, branches and coils, 80 columns wide.

Every name and form comes from the tree of the rung list as read back from its text.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from grammar.rungs.tree import Circuit, Comments, Device, Feed, Kind, Master, Network, Rung, Terminal, shared
from targets.relay.block import Block, beside, cell, fold, on_wire, stacked

__all__ = ["COLUMNS", "ladder"]

COLUMNS = 80
_MARGIN = 6  # the rung number, and a blank before the left rail
_INNER = COLUMNS - _MARGIN - 2  # between the rails
_Devices = dict[str, Device]  # by folded name


def ladder(circuit: Circuit) -> list[str]:
    """The lines of the drawing, no wider than 80 columns and without trailing blanks."""
    lines = [*textwrap.wrap(circuit.title, COLUMNS, break_on_hyphens=False), ""] if circuit.title else []
    lines += _legend(circuit)
    devices = {device.name.text.casefold(): device for device in circuit.devices}
    column = max((_coil(feed, devices, 0).width for rung in circuit.rungs for feed in rung.feeds), default=0)
    inside: tuple[Master, ...] = ()
    for rung in circuit.rungs:
        common = shared(inside, rung.masters)
        for depth in range(common, len(rung.masters)):
            master = rung.masters[depth]
            lines += ["", *_says(master.comments), *_master(master, depth)]
        inside = rung.masters
        lines += ["", *_says(rung.comments), *_rung(rung, devices, column)]
    return [line.rstrip() for line in lines]


def _legend(circuit: Circuit) -> list[str]:
    kinds: dict[Kind, list[str]] = {}
    for device in circuit.devices:
        preset = f" ({_preset(device)})" if device.preset is not None else ""
        kinds.setdefault(device.kind, []).append(device.name.text + preset)
    lines = []
    for kind, names in kinds.items():
        head = f"{kind}{'es' if kind.endswith('ch') else 's'}: " if len(names) > 1 else f"{kind}: "
        indent = " " * len(head)
        lines += textwrap.wrap(head + ", ".join(names), COLUMNS, subsequent_indent=indent, break_on_hyphens=False)
    return lines


def _says(comments: Comments) -> list[str]:
    said = (*comments.above, comments.beside)
    text = [line for comment in said for line in textwrap.wrap(comment, COLUMNS - _MARGIN, break_on_hyphens=False)]
    return [" " * _MARGIN + line for line in text]


def _rung(rung: Rung, devices: _Devices, column: int) -> Iterator[str]:
    """A rung between its rails, its coils in one column; parts too deep to fit are drawn below it, numbered."""
    depth = len(rung.masters)
    inner = _INNER - depth
    coils = stacked([_coil(feed, devices, column) for feed in rung.feeds], right=False)
    asides: list[Network] = []
    block = beside([fold(rung.own, inner - coils.width, asides), coils], fill=inner)
    yield from _between_rails(str(rung.number), block, depth)
    yield from _drawn_apart(asides)


def _master(master: Master, depth: int) -> Iterator[str]:
    """The contacts of a master, and after them the rail of its group, one column in from the rail they start at."""
    asides: list[Network] = []
    block = fold(master.network, _INNER - depth - 2, asides)
    turn = (" " * block.line, "┐", "│" * (len(block.rows) - block.line - 1))
    rows = [row + corner for row, corner in zip(block.rows, "".join(turn), strict=True)]
    rows.append("┌" + "─" * (block.width - 1) + "┘")
    room = _INNER - depth
    yield from _between_rails("", Block(tuple(row.ljust(room) for row in rows), block.line, room), depth)
    yield from _drawn_apart(asides)


def _drawn_apart(asides: list[Network]) -> Iterator[str]:
    done = 0
    while done < len(asides):
        aside = asides[done]
        done += 1
        ends = on_wire(f"[{done}]")
        body = fold(aside, _INNER + 1 - 2 * ends.width, asides)
        yield ""
        for row in beside([ends, body, ends]).rows:
            yield " " * (_MARGIN + 1) + row


def _between_rails(number: str, block: Block, depth: int) -> Iterator[str]:
    """``depth`` counts the rails further left, which go past."""
    for k, row in enumerate(block.rows):
        on_line = k == block.line
        left, right = "├" if on_line else "│", "┤" if row.endswith("─") else "│"
        yield f"{number if on_line else '':>{_MARGIN - 1}} {'│' * depth}{left}{row}{right}"


def _coil(feed: Feed, devices: _Devices, column: int) -> Block:
    """A coil with its name over it, and what a timer does under it."""
    device = devices.get(feed.name.text.casefold())
    name = f"{feed.name.text} {feed.terminal}".rstrip()
    kind = Kind.RELAY if device is None else device.kind
    below = ""
    if device is not None and device.preset is not None and feed.terminal not in (Terminal.SUPPLY, Terminal.RESET):
        below = _preset(device)
    return cell(name, _LETTERS.get(feed.terminal, _SYMBOLS[kind]), below, least=column)


def _preset(device: Device) -> str:
    assert device.preset is not None
    what = "preset" if device.function is None else device.function
    return f"{what} {device.preset.number} {device.preset.unit}".rstrip()


_SYMBOLS = dict.fromkeys(Kind, "(   )") | {
    Kind.SOLENOID: "/\\/\\/",
    Kind.LAMP: "( X )",
    Kind.HORN: "( H )",
    Kind.MOTOR: "( M )",
    Kind.TIMER: "( T )",
}
_LETTERS = {
    Terminal.LATCH: "( L )",
    Terminal.UNLATCH: "( U )",
    Terminal.COUNT: "( C )",
    Terminal.RESET: "( R )",
}
