"""The walk-through: a run told in order of cause, the way an instructor says it at the board.

Told from the causal record of a run (``compiler.walk``) and from nothing else: no text belongs to one arrangement.
What is told is data; Markdown, HTML and the terminal are three ways to show it.
"""

from targets.walkthrough.pages import as_html, as_markdown, as_page, as_text
from targets.walkthrough.told import Level, Told
from targets.walkthrough.walk import walk_through

__all__ = ["Level", "Told", "as_html", "as_markdown", "as_page", "as_text", "walk_through"]
