"""Relay circuits: rung lists in several arrangements, each with its ladder, and the way back from a printed list.

``TARGET`` costs next to nothing to import; emitting and reading load what they need when first used.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.logic import Logic
from compiler.machine import Machine
from targets.target import Artefact, Options, Refusal

__all__ = ["TARGET", "RelayTarget"]


@dataclass(frozen=True, slots=True)
class RelayTarget:
    """See ``targets.target.Target``."""

    name: str = "relay"
    suffixes: tuple[str, ...] = (".rungs",)

    def emit(self, machine: Machine, chart: Chart, *, options: Options) -> Iterable[Artefact | Refusal]:
        """Each arrangement as a rung list and a ladder, or the reason why it does not fit."""
        from targets.relay.emit import emit

        return emit(machine, chart, options=options)

    def read(self, text: str, file: str, machine: Machine) -> Logic:
        """The Logic of a rung list. Raises grammar.reading.ReadBack when it can't be read."""
        from targets.relay.read import read

        return read(text, file, machine)


TARGET = RelayTarget()
