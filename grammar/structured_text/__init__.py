"""Structured text: its grammar, tree, reader and writer (IEC 61131-3, in part).

``read`` judges grammar, names and kinds; what a program does is the compiler's business. Which words the language
keeps for itself is told by ``reserved``.
"""

from grammar.structured_text.read import read
from grammar.structured_text.reserved import is_reserved
from grammar.structured_text.write import write

__all__ = ["is_reserved", "read", "write"]
