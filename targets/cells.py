"""Rows of text as CSV (RFC 4180), harmless in a spreadsheet.

A cell that a spreadsheet would take for a formula gets an apostrophe before it (common practice; quoting alone does
not stop it).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

__all__ = ["csv_text"]


def csv_text(rows: Iterable[Sequence[str]]) -> str:
    """Rows, the heads first, as a CSV file."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerows([_harmless(cell) for cell in row] for row in rows)
    return out.getvalue()


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.lstrip(" \t\r\n")[:1] in {"=", "+", "-", "@"} or cell[:1] in {"\t", "\r"} else cell
