"""The pictures that the README shows: what the tool draws of an example today.

``python -m tests.sheet_set.pictures`` draws them anew; look at them when they change.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from compiler.understand import understand
from grammar.source import Source
from targets.build import build_all
from targets.circuit_papers import circuit_papers
from targets.sheet_set.view import sheet_set
from targets.target import Options

__all__ = ["PLACE", "pictures"]

_EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
PLACE = _EXAMPLES / "pictures"


def pictures() -> Iterator[tuple[str, str]]:
    """Each picture: its file name and its SVG. The on-delay dwell of the bung press, its sheet and a cycle of it."""
    source = Source("bung-press.seq", (_EXAMPLES / "bung-press.seq").read_text(encoding="utf-8"))
    options = Options(arrangements=("on-delay",))
    understood = understand(source)
    built = build_all(understood, options)
    assert built is not None
    sheets = sheet_set(understood, built, tuple(circuit_papers(built, understood.machine, options)), options)
    (circuit,) = sheets.circuits
    yield "bung-press-ladder-sheet.svg", circuit.sheets[options.symbols][0].svg
    yield "bung-press-timing-chart.svg", circuit.cycle.svg


if __name__ == "__main__":
    for name, svg in pictures():
        (PLACE / name).write_text(svg, encoding="utf-8", newline="\n")
