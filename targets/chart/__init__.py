"""The chart target: the steps and transitions as text to read, and as JSON to keep."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.chart import Chart
from compiler.logic import Logic
from compiler.machine import Machine
from targets.target import Artefact, Options, Refusal

__all__ = ["TARGET", "ChartTarget"]


class ChartTarget:
    """See ``targets.target.Target``. The JSON is read back and checked like any implementation."""

    name = "chart"
    suffixes = (".json",)

    def emit(self, machine: Machine, chart: Chart, *, options: Options) -> Iterable[Artefact | Refusal]:
        """The step list as text, and Machine and Chart as JSON."""
        from targets.chart.emit import emit

        return emit(machine, chart)

    def read(self, text: str, file: str, machine: Machine) -> Logic:
        """The chart in a printed JSON file. Raises ReadBack when the file is not one."""
        from targets.chart.read import read

        return read(text, file)


TARGET = ChartTarget()
