"""The sheet set: everything a build has to show, as one page for the screen and the printer and as a PDF.

What it says is decided in ``view``; ``page`` and ``paper`` lay that out. No drawing is made here.
"""

from targets.sheet_set.page import as_page
from targets.sheet_set.paper import NoPrinter, as_pdf
from targets.sheet_set.view import SheetSet, sheet_set

__all__ = ["NoPrinter", "SheetSet", "as_page", "as_pdf", "sheet_set"]
