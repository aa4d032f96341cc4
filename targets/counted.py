"""Numbers of things in words."""

from __future__ import annotations

__all__ = ["counted"]


def counted(count: int, what: str) -> str:
    """So many of what is given in the plural: ``1 relay``, ``3 relays``."""
    return f"{count} {what.removesuffix('s') if count == 1 else what}"
