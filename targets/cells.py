"""Rows of text as CSV (RFC 4180), harmless in a spreadsheet, and read again.

A cell that a spreadsheet would take for a formula gets an apostrophe before it (common practice; quoting alone does
not stop it).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

__all__ = ["csv_rows", "csv_text"]


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Rows, the heads first, as a CSV file."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerows([f"'{cell}" if _risky(cell) else cell for cell in row] for row in rows)
    return out.getvalue()


def csv_rows(text: str) -> list[list[str]]:
    """The rows of a file that ``csv_text`` wrote, without its apostrophes."""
    rows = csv.reader(io.StringIO(text, newline=""))
    return [[cell[1:] if cell[:1] == "'" and _risky(cell[1:]) else cell for cell in row] for row in rows]


def _risky(cell: str) -> bool:
    """Whether a cell, or one with apostrophes before it, would be taken for a formula without them."""
    bare = cell.lstrip("'")
    return bare.lstrip()[:1] in {"=", "+", "-", "@"} or bare[:1] in {"\t", "\r"}
