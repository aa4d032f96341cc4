"""The command that shows the sizes of a machine. Nothing is decided here."""

from __future__ import annotations

import sys

import click

from targets.given import need_chart, source_of
from targets.given import understood as understand

__all__ = ["size"]


@click.command(short_help="Show speeds, times, forces, power, air and the critical path.")
@click.argument("file", required=False, metavar="[FILE]")
@click.option("--text", metavar="WORDS", help="The program itself, in place of a file.")
@click.option("--us", "us", is_flag=True, help="US units: in, lbf, psi, gpm, hp.")
@click.option("--si", "si", is_flag=True, help="SI units: mm, kN, bar, L/min, kW. The usual ones.")
@click.option("--json", "as_json", is_flag=True, help="The numbers as JSON.")
def size(file: str | None, text: str | None, us: bool, si: bool, as_json: bool) -> None:
    """Calculate what follows from bore, rod, stroke, flow, pressure and load: stroke times and speeds with their
    limits, forces, pump power and standby heat, compressed air, and the time of the cycle with its critical path.

    \b
    Examples:
      rungwright size press.seq
      rungwright size press.seq --us
      rungwright size press.seq --json
    """
    if us and si:
        raise click.UsageError("give --us or --si, not both")
    from compiler.physics.figure import System
    from compiler.physics.sheet import sheet
    from targets.screen import console, messages_json, show_diagnostics, write_text
    from targets.size_report import SIZE_CODES, sizes_json, sizes_text

    program = understand(source_of(file, text, as_json=as_json))
    if program.chart is None and as_json:
        click.echo(messages_json(program.diagnostics, program.source))
        sys.exit(1)
    need_chart(program)
    assert program.chart is not None
    system = System.US if us else System.SI
    parts = sheet(program.machine, program.chart)
    if as_json:
        click.echo(sizes_json(program, parts, system))
        return
    write_text(sizes_text(program, parts, system))
    show_diagnostics((d for d in program.diagnostics if d.code in SIZE_CODES), program.source)
    console().print()
