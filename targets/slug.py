"""File names from titles."""

from __future__ import annotations

import re
import unicodedata
from hashlib import sha256

__all__ = ["slug"]


def slug(title: str) -> str:
    """A title as a file stem: ASCII letters, digits, hyphens, at most 48. A title without any such sign becomes
    "sequence" and a mark of its own, so that two of them are two; no title is "sequence" alone."""
    ascii_only = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.sub(r"[^a-z0-9]+", "-", ascii_only.lower()).strip("-")[:48].strip("-")
    if words or not title.strip():
        return words or "sequence"
    return f"sequence-{sha256(title.encode()).hexdigest()[:6]}"
