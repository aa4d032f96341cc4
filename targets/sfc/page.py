"""What the template prints: a whole function block with its chart."""

from __future__ import annotations

from dataclasses import dataclass

from targets.controller.page import Line

__all__ = ["Action", "Page", "Part"]


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the chart: a step followed by the ways on from it, and so on."""

    heading: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Action:
    """An action with its statements."""

    name: str
    comment: str
    statements: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """The function block. ``always`` is the step that is active all the time."""

    title: str
    caution: tuple[str, ...]
    block: str
    inputs: tuple[Line, ...]
    outputs: tuple[Line, ...]
    variables: tuple[Line, ...]
    always: str
    parts: tuple[Part, ...]
    actions: tuple[Action, ...]
