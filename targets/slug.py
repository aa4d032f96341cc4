"""File names from titles."""

from __future__ import annotations

import re
import unicodedata

__all__ = ["slug"]


def slug(title: str) -> str:
    """A title as a file stem: ASCII letters, digits, hyphens, at most 48; "sequence" if nothing is left."""
    ascii_only = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.sub(r"[^a-z0-9]+", "-", ascii_only.lower()).strip("-")[:48].strip("-")
    return words or "sequence"
