"""Ladder sheets: a circuit drawn between its rails with the trade's symbols, wire numbers, terminals and references.

Everything drawn comes from a circuit as read back from its printed text (``targets/wiring`` numbers its wires).
"""

from targets.ladder_sheet.sheets import held_switches, ladder_sheets
from targets.ladder_sheet.title_block import Heading

__all__ = ["Heading", "held_switches", "ladder_sheets"]
