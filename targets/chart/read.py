"""Read a chart's JSON back to a Logic."""

from __future__ import annotations

from compiler.chart_logic import chart_logic
from compiler.document import NotADocument, read_document
from compiler.faults import finding
from compiler.logic import Logic
from grammar.reading import ReadBack
from grammar.source import Source

__all__ = ["read"]


def read(text: str, file: str) -> Logic:
    """The Logic of the chart in a JSON document. Raises ReadBack when it is not one."""
    try:
        return chart_logic(read_document(text).chart)
    except NotADocument as wrong:
        fault = finding("RW217", str(wrong), 0, 0, expected="a chart file that Rungwright wrote")
        raise ReadBack(Source(file, text), (fault,)) from None
