"""The rails behind masters: from where a group begins to its last rung, over as many sheets as that takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from grammar.rungs.tree import Contact, Master, Rung, shared
from targets.drawing.figure import Item, Line, Text
from targets.ladder_sheet.dealing import Part
from targets.ladder_sheet.rung import rail_of
from targets.wiring.nets import WiredCircuit

__all__ = ["begun", "behind", "rails"]


def rails(
    parts: Sequence[Part], after: Rung | None, top: float, bottom: float, wired: WiredCircuit
) -> Iterator[Item]:
    """The rails behind masters: from where a group begins, or the top of the sheet, to its last rung here, or on."""
    starts: dict[int, float] = {}
    inside: tuple[Master, ...] = ()
    for part, following in zip(parts, [*(p.rung for p in parts[1:]), after], strict=True):
        masters = part.masters
        begun = len(masters) - len(part.drawing.opens)
        for depth in range(shared(inside, masters), len(masters)):
            opens = depth >= begun
            starts[depth] = part.y + part.drawing.opens[depth - begun] if opens else top - 22
            if not opens:
                number = wired.rails[part.rung.number][depth]
                yield Text(rail_of(depth + 1), top - 30, str(number), "wire-number", "middle")
        inside = masters
        kept = shared(inside, following.masters) if following else 0
        ends = [(depth, part.y + part.drawing.ends) for depth in range(kept, len(inside))]
        if part is parts[-1]:
            ends += [(depth, bottom) for depth in range(kept)]
        for depth, end in ends:
            x = rail_of(depth + 1)
            yield Line(x, starts[depth], x, end, "rail", wired.rails[part.rung.number][depth])


def begun(parts: Sequence[Sequence[Part]], wired: WiredCircuit) -> dict[int, tuple[int, int]]:
    """The sheet and the rung that each rail begins with, by the number of its wire."""
    return {
        wired.rails[part.rung.number][depth]: (sheet, part.rung.number)
        for sheet, some in enumerate(parts, 1)
        for part in some
        for depth in range(len(part.masters) - len(part.drawing.opens), len(part.masters))
    }


def behind(first: Part, starts: Mapping[int, tuple[int, int]], top: float, wired: WiredCircuit) -> Iterator[Item]:
    """Over the ``first`` rung of a further sheet, where the rails come from that it is fed from."""
    going_on = first.masters[: len(first.masters) - len(first.drawing.opens)]
    told = []
    for master, rail in zip(going_on, wired.rails[first.rung.number], strict=False):
        sheet, rung = starts[rail]
        named = f" behind {master.network.name.text}" if isinstance(master.network, Contact) else ""
        told.append(f"wire {rail}{named} from /{sheet}.{rung}")
    if told:
        yield Text(rail_of(len(told)) + 10, top - 12, ", ".join(told), "reference")
