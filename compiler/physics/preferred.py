"""Preferred sizes of cylinders, and nominal pressures (ISO 3320:2013, ISO 2944, NFPA inch sizes; all from memory)."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["is_preferred", "nearest", "nominal_pressure"]

_BORES_MM = (
    8, 10, 12, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 320, 400, 500,
    90, 110, 140, 180, 220, 280, 360, 450,
)  # fmt: skip
_RODS_MM = (
    4, 5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 25, 28, 32, 36, 40, 45, 50, 56, 63, 70, 80, 90, 100, 110, 125, 140, 160,
    180, 200, 220, 250, 280, 320, 360,
)  # fmt: skip
_BORES_INCH = (1.5, 2, 2.5, 3.25, 4, 5, 6, 7, 8, 10, 12, 14)
_RODS_INCH = (0.625, 1, 1.375, 1.75, 2, 2.5, 3)
_PRESSURES_BAR = (16, 25, 40, 63, 100, 160, 200, 250, 315, 400)
_INCH_UM = 25_400


def _lists(rod: bool) -> tuple[tuple[tuple[int, str], ...], tuple[tuple[int, str], ...]]:
    """Metric and inch sizes in micrometres, each with its name."""
    metric, inch = (_RODS_MM, _RODS_INCH) if rod else (_BORES_MM, _BORES_INCH)
    return (
        tuple((mm * 1000, f"{mm} mm") for mm in metric),
        tuple((round(size * _INCH_UM), f"{size:g} in") for size in inch),
    )


def is_preferred(size_um: int, *, rod: bool) -> bool:
    """Whether a bore, or a rod, is of a preferred size."""
    return any(size_um == size for sizes in _lists(rod) for size, _ in sizes)


def nearest(size_um: int, *, rod: bool) -> tuple[str, str]:
    """The preferred metric size and the inch size that are nearest, by name; the smaller where two are as near."""
    metric, inch = (_nearest(size_um, sizes) for sizes in _lists(rod))
    return metric, inch


def _nearest(size_um: int, sizes: Iterable[tuple[int, str]]) -> str:
    return min(sizes, key=lambda size: (abs(size[0] - size_um), size[0]))[1]


def nominal_pressure(pressure_bar: float) -> float:
    """The least nominal pressure in bar that parts for this pressure have; the pressure itself above the largest."""
    return next((nominal for nominal in _PRESSURES_BAR if nominal >= pressure_bar), pressure_bar)
