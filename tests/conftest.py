"""What holds for every test."""

from __future__ import annotations

from pathlib import Path

import pytest

# Tracing doubles what a test takes. Searches go over the same lines thousands of times; what is covered is found out
# by all the other tests, so that the figure CI holds is a least one.
UNTRACED = {"motion", "proof", "races", "relay", "retell", "sfc", "walkthrough", "whole", "wiring"}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Searches are not traced for coverage: whole folders of them, and wherever cases are drawn."""
    here = Path(__file__).parent
    for item in items:
        drawn = getattr(getattr(item, "obj", None), "is_hypothesis_test", False)
        if drawn or item.path.relative_to(here).parts[0] in UNTRACED:
            item.add_marker("no_cover")
