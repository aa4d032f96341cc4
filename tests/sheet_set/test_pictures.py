"""The README's pictures are what the tool draws, and it shows them."""

from __future__ import annotations

import re
from pathlib import Path

from tests.sheet_set.pictures import PLACE, pictures

README = Path(__file__).resolve().parents[2] / "README.md"


def test_the_pictures_are_what_is_drawn_today() -> None:
    """``python -m tests.sheet_set.pictures`` draws them anew; look at them then."""
    drawn = dict(pictures())
    assert {path.name for path in PLACE.iterdir()} == set(drawn)
    for name, svg in drawn.items():
        assert (PLACE / name).read_text(encoding="utf-8") == svg, name


def test_the_readme_shows_every_picture_and_says_what_it_is() -> None:
    shown = dict(re.findall(r"!\[([^\]]{20,})\]\(examples/pictures/([^)]+)\)", README.read_text(encoding="utf-8")))
    assert sorted(shown.values()) == sorted(path.name for path in PLACE.iterdir())
