"""The SFC target: a sequential function chart as text (IEC 61131-3), read back and checked."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.chart import Chart
from compiler.logic import Logic
from compiler.machine import Machine
from targets.target import Artefact, Options, Refusal

__all__ = ["TARGET", "SfcTarget"]


class SfcTarget:
    """See ``targets.target.Target``."""

    name = "sfc"
    suffixes = (".sfc",)

    def emit(self, machine: Machine, chart: Chart, *, options: Options) -> Iterable[Artefact | Refusal]:
        """One function block, or the reason why the chart can't be told as an SFC."""
        from targets.sfc.emit import emit

        return [emit(machine, chart)]

    def read(self, text: str, file: str, machine: Machine) -> Logic:
        """The Logic of a printed chart. Raises ReadBack when it can't be read or fits another machine."""
        from targets.sfc.read import read

        return read(text, file, machine)


TARGET = SfcTarget()
