"""Differences that a proof found, drawn: both logics in one chart, one drawing a difference."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from compiler.chart import Chart
from compiler.chart_logic import ChartLogic, chart_logic
from compiler.logic import Logic, StandIn
from compiler.machine import Machine
from compiler.proof.verdict import Proof
from compiler.understand import Understood
from targets.build import Built, read_back
from targets.given import refuse, write_text
from targets.implementation import Implementation
from targets.motion import difference_chart
from targets.proof_report import outside_line
from targets.target import Artefact

__all__ = ["difference_artefacts", "difference_drawings", "need_drawable", "write_differences"]


def difference_drawings(proof: Proof, machine: Machine, driver: Logic, shadow: Logic) -> Iterator[tuple[str, str]]:
    """For each difference of a proof that a run shows: the difference in a sentence, and the SVG."""
    for outside in proof.outside:
        if outside.run is not None:
            said = outside_line(outside, machine)
            line = f"{said[:1].upper()}{said[1:]}."
            yield line, difference_chart(outside.run, machine, driver, shadow, chart=_chart(driver), said=line)


def _chart(logic: Logic) -> Chart | None:
    """The chart that a logic is, perhaps under another name."""
    inner = logic.logic if isinstance(logic, StandIn) else logic
    return inner.chart if isinstance(inner, ChartLogic) else None


def difference_artefacts(understood: Understood, built: Built) -> Iterator[Artefact]:
    """The differences of everything that a build printed and proved, as files beside it."""
    assert understood.chart is not None
    for printed in built.printed:
        artefact = printed.artefact
        if printed.proof is None or not artefact.implementation:
            continue
        logics = chart_logic(understood.chart), read_back(artefact, understood.machine)
        drawn = list(difference_drawings(printed.proof, understood.machine, *logics))
        for k, (_, svg) in enumerate(drawn, 1):
            number = f"-{k}" if len(drawn) > 1 else ""
            file = f"{artefact.file}.difference{number}.svg"
            yield Artefact(artefact.target, f"{artefact.name}, how it differs{number.replace('-', ' ')}", file, svg)


# --- the command line --------------------------------------------------------------------------------------------


def need_drawable(output: Path | None) -> None:
    """Refuse a name that says no drawing, and files that are there: before anything is proved."""
    if output is None:
        return
    if output.suffix.casefold() != ".svg":
        refuse(f"{output} should end in .svg: differences are drawn")
    there = next((path for path in (output, _numbered(output, 1)) if path.exists()), None)
    if there is not None:
        refuse(f"{there} is already there; choose another name")


def write_differences(
    output: Path | None,
    proofs: Sequence[Proof],
    pairs: Sequence[tuple[Implementation, Implementation]],
    machine: Machine,
) -> None:
    """Write every difference of these proofs as a drawing; of several each file gets a number."""
    if output is None:
        return
    drawn: list[tuple[str, str]] = []
    for proof, (driver, shadow) in zip(proofs, pairs, strict=True):
        drawn += difference_drawings(proof, machine, driver.logic, shadow.logic)
    for k, (line, svg) in enumerate(drawn, 1):
        path = output if len(drawn) == 1 else _numbered(output, k)
        write_text(path, svg)
        click.echo(f"{path} written: {line}", err=True)
    if not drawn:
        click.echo("there is no difference to draw", err=True)


def _numbered(output: Path, number: int) -> Path:
    return output.with_name(f"{output.stem}-{number}{output.suffix}")
