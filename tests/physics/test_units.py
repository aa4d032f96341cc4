"""Our exact conversions against pint's, for every unit the language reads."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler import units
from compiler.physics.quantities import quantity
from compiler.understand import understand
from grammar.sequence.tree import Quantity
from grammar.sequence.words import UNITS, dimension
from grammar.source import Source

# How our spellings are spelt in pint, where it has another, and the unit each kind is kept in.
_PINT = {
    "L/min": "liter/minute", "gpm": "gallon/minute", "in": "inch", "cm3": "cm^3", "in3": "inch^3",
    "cm3/rev": "cm^3", "in3/rev": "inch^3", "%": "percent", "h": "hour", "min": "minute",
}  # fmt: skip
_KEPT: dict[str, tuple[Callable[[Quantity], float], str]] = {
    "time": (units.microseconds, "microsecond"),
    "length": (units.micrometres, "micrometer"),
    "pressure": (units.bar, "bar"),
    "flow": (units.litres_per_minute, "liter/minute"),
    "force": (units.newtons, "newton"),
    "mass": (units.kilograms, "kilogram"),
    "volume": (units.litres, "liter"),
    "displacement": (units.cubic_centimetres_a_turn, "cm^3"),
    "turns": (units.turns_a_minute, "rpm"),
    "share": (units.share, "dimensionless"),
}
_ALL = sorted(set(UNITS.values()))


@settings(deadline=None)
@given(st.sampled_from(_ALL), st.integers(1, 100), st.integers(0, 99))
def test_every_unit_is_what_pint_says(unit: str, whole: int, hundredths: int) -> None:
    convert, kept = _KEPT[dimension(unit)]
    number = f"{whole}.{hundredths:02}" if unit != "%" else str(whole)
    wanted = quantity(float(number), _PINT.get(unit, unit)).to(kept).magnitude
    if kept.startswith("micro"):  # whole numbers, half upwards
        assert abs(convert(Quantity(number, unit)) - wanted) <= 0.5 + 1e-6 * wanted
    else:
        assert convert(Quantity(number, unit)) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize("unit", _ALL)
def test_a_unit_of_another_kind_is_refused_with_what_was_expected(unit: str) -> None:
    for kind, (convert, _) in _KEPT.items():
        if kind != dimension(unit):
            with pytest.raises(units.NotThatKind, match=r"^an? "):
                convert(Quantity("1", unit))


def test_nothing_is_none_and_more_than_all_is_too_much() -> None:
    with pytest.raises(units.NotThatKind, match="greater than zero"):
        units.newtons(Quantity("0", "kN"))
    with pytest.raises(units.NotThatKind, match="100 % or less"):
        units.share(Quantity("101", "%"))


def test_what_is_too_short_is_told_with_the_least_there_is() -> None:
    """A tenth of a microsecond, and a tenth of a micrometre, of which whole ones are kept."""
    with pytest.raises(units.OutOfRange, match=r"^a time of at least 1 us$"):
        units.microseconds(Quantity("0.0000001", "s"))
    with pytest.raises(units.OutOfRange, match=r"^a length of at least 0\.001 mm$"):
        units.micrometres(Quantity("0.0001", "mm"))
    told = understand(Source("x", "extend, hold 0.0000001 s, retract")).diagnostics
    assert [(d.code, d.expected, d.cure) for d in told if d.code == "RW206"] == [
        ("RW206", "a time of at least 1 us", "write a quantity within these bounds")
    ]


def test_reading_a_program_loads_no_unit_library() -> None:
    program = (
        "hydraulic cylinder A\n bore 50 mm, rod 28 mm, stroke 2 in, flow 3 gpm, pressure 2000 psi\nextend\nretract"
    )
    asked = (
        "import sys; from compiler.understand import understand; from grammar.source import Source; "
        f"understand(Source('t', {program!r})); print('pint' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"
