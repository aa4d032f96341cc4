"""The structured text target: a third-edition function block (IEC 61131-3:2013), read back and checked."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.chart import Chart
from compiler.logic import Logic
from compiler.machine import Machine
from targets.target import Artefact, Options, Refusal

__all__ = ["TARGET", "StructuredTextTarget"]


class StructuredTextTarget:
    """See ``targets.target.Target``."""

    name = "structured-text"
    suffixes = (".st",)

    def emit(self, machine: Machine, chart: Chart, *, options: Options) -> Iterable[Artefact | Refusal]:
        """One function block, or the reason why the chart can't be told with one step number."""
        from targets.structured_text.emit import emit

        return [emit(machine, chart)]

    def read(self, text: str, file: str, machine: Machine) -> Logic:
        """The Logic of a printed function block. Raises ReadBack when it can't be read or fits another machine."""
        from targets.structured_text.read import read

        return read(text, file, machine)


TARGET = StructuredTextTarget()
