"""The GRAFCET target: the chart drawn by the rules of IEC 60848, as SVG."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.chart import Chart
from compiler.faults import finding
from compiler.logic import Logic
from compiler.machine import Machine
from grammar.reading import ReadBack
from grammar.source import Source
from targets.target import Artefact, Options, Refusal

__all__ = ["TARGET", "GrafcetTarget"]


class GrafcetTarget:
    """See ``targets.target.Target``. A drawing is not an implementation and is not read back."""

    name = "grafcet"
    suffixes: tuple[str, ...] = ()

    def emit(self, machine: Machine, chart: Chart, *, options: Options) -> Iterable[Artefact | Refusal]:
        """The drawing."""
        from targets.grafcet.emit import emit

        return emit(machine, chart)

    def read(self, text: str, file: str, machine: Machine) -> Logic:
        """Raises ReadBack: a drawing can't be read."""
        fault = finding("RW217", "a drawing can't be read back", 0, 0, expected="an implementation")
        raise ReadBack(Source(file, text), (fault,))


TARGET = GrafcetTarget()
