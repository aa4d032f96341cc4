"""What holds for every test."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Searches that draw their cases are not traced: they walk the same lines many times over, at half the speed."""
    for item in items:
        if getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
            item.add_marker("no_cover")
