"""A circuit drawn as a ladder for the terminal: rails, contacts, branches and coils, 80 columns wide.

Every name and form comes from the tree of the rung list as read back from its text.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from grammar.rungs.tree import Circuit, Device, Feed, Kind, Network, Rung, Terminal
from targets.relay.block import Block, beside, cell, fold, on_wire, stacked

__all__ = ["COLUMNS", "ladder"]

COLUMNS = 80
_MARGIN = 6  # the rung number, and a blank before the left rail
_INNER = COLUMNS - _MARGIN - 2  # between the rails


def ladder(circuit: Circuit) -> list[str]:
    """The lines of the drawing, no wider than 80 columns and without trailing blanks."""
    lines = [*textwrap.wrap(circuit.title, COLUMNS), ""] if circuit.title else []
    lines += _legend(circuit)
    column = max((_coil(feed, circuit, 0).width for rung in circuit.rungs for feed in rung.feeds), default=0)
    for rung in circuit.rungs:
        lines += ["", *_says(rung), *_rung(rung, circuit, column)]
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


def _says(rung: Rung) -> list[str]:
    text = [line for comment in rung.comments.above for line in textwrap.wrap(comment, COLUMNS - _MARGIN)]
    return [" " * _MARGIN + line for line in text]


def _rung(rung: Rung, circuit: Circuit, column: int) -> Iterator[str]:
    """A rung between its rails, its coils in one column; parts too deep to fit are drawn below it, numbered."""
    coils = stacked([_coil(feed, circuit, column) for feed in rung.feeds], right=False)
    asides: list[Network] = []
    block = beside([fold(rung.network, _INNER - coils.width, asides), coils], fill=_INNER)
    yield from _between_rails(str(rung.number), block)
    done = 0
    while done < len(asides):
        aside = asides[done]
        done += 1
        label = f"[{done}]"
        ends = on_wire(label)
        body = fold(aside, _INNER + 1 - 2 * ends.width, asides)
        yield ""
        yield from _between_rails("", beside([ends, body, ends], fill=0), rails=False)


def _between_rails(number: str, block: Block, *, rails: bool = True) -> Iterator[str]:
    for k, row in enumerate(block.rows):
        on_line = k == block.line
        left, right = "├" if on_line else "│", "┤" if row.endswith("─") else "│"
        lead = f"{number if on_line else '':>{_MARGIN - 1}} "
        yield lead + left + row + right if rails else lead + " " + row


def _coil(feed: Feed, circuit: Circuit, column: int) -> Block:
    """A coil with its name over it, and what a timer does under it."""
    device = circuit.device(feed.name.text)
    name = f"{feed.name.text} {feed.terminal}".rstrip()
    kind = Kind.RELAY if device is None else device.kind
    below = ""
    if device is not None and device.preset is not None and feed.terminal not in (Terminal.SUPPLY, Terminal.RESET):
        below = _preset(device)
    return cell(name, _SYMBOLS[kind], below, least=column)


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
    Kind.COUNTER: "( C )",
}
