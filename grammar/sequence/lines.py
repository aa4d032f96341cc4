"""Lines of the canonical text: indentation, and comments above and beside."""

from __future__ import annotations

from grammar.sequence import tree

__all__ = ["INDENT", "comment_lines", "line"]

INDENT = "    "
"""What a line is indented by for each block it stands in."""


def comment_lines(comments: tuple[str, ...], indent: str) -> list[str]:
    """Comment lines on lines of their own."""
    return [f"{indent}# {c}" if c else f"{indent}#" for c in comments]


def line(node: tree.Line, text: str, indent: str = "") -> list[str]:
    """The line that says a node, with the comments that stand above and beside it."""
    beside = f"  # {node.comments.beside}" if node.comments.beside else ""
    return [*comment_lines(node.comments.above, indent), f"{indent}{text}{beside}"]
