"""The names by which a page links to a rung and to a moment of a run: one place, so that what is told meets what is
drawn. ``prefix`` goes before them where several arrangements stand in one page."""

from __future__ import annotations

__all__ = ["moment_anchor", "rung_anchor"]


def rung_anchor(number: int, prefix: str = "") -> str:
    """Where a rung is drawn or written."""
    return f"{prefix}rung-{number}"


def moment_anchor(at_us: int, prefix: str = "") -> str:
    """Where a moment of a run is shown: by milliseconds, by microseconds where it is no whole millisecond."""
    return f"{prefix}moment-{at_us // 1000}ms" if at_us % 1000 == 0 else f"{prefix}moment-{at_us}us"
