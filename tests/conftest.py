"""What holds for every test."""

from __future__ import annotations

import gc
import sys
from collections.abc import Generator
from pathlib import Path

import pytest

HERE = Path(__file__).parent

# Tracing doubles what a test takes. Searches go over the same lines thousands of times; what is covered is found out
# by all the other tests, so that the figure CI holds is a least one.
UNTRACED = (
    "ladder_sheet/test_overlap.py",
    "motion/",
    "proof/",
    "races/",
    "relay/",
    "retell/",
    "sequence/test_never_raises.py",
    "sfc/",
    "structured_text/test_same_as_chart.py",
    "walkthrough/",
    "whole/",
    "wiring/",
)


def is_search(item: pytest.Item) -> bool:
    """Whether a test is not traced for coverage: whole folders, long files, and wherever cases are drawn."""
    drawn = getattr(getattr(item, "obj", None), "is_hypothesis_test", False)
    return drawn or item.path.relative_to(HERE).as_posix().startswith(UNTRACED)


def pytest_collection_finish() -> None:
    """What was imported and collected stays to the end: no garbage is looked for in it while tests run."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Searches are not traced. (pytest-cov's own mark for that leaves a tracer on in the processes of pytest-xdist,
    which have two of them, one below the other.)"""
    tracer = sys.gettrace()
    if not is_search(item):
        return (yield)
    sys.settrace(None)
    try:
        return (yield)
    finally:
        sys.settrace(tracer)
