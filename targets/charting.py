"""The command ``chart``: any run of a machine as a drawing, a waveform file or a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from targets.given import need_chart, refuse, source_of, understood, write_text

if TYPE_CHECKING:
    from compiler.logic import Logic
    from compiler.simulation.run import Run
    from compiler.understand import Understood

__all__ = ["chart"]

_KINDS = ("timing", "motion-step", "motion-time")
_ENDINGS = (".svg", ".vcd", ".csv")
_AFTER_US = 3_000_000  # how long a run goes on after a difference


@click.command(short_help="Draw a run: timing, motion against steps, motion against time.")
@click.argument("file", required=False, metavar="[FILE]")
@click.option("--text", metavar="WORDS", help="The program itself, in place of a file.")
@click.option(
    "--of", "which", default="sequence", metavar="NAME", help="What drives: sequence, or an artefact's name."
)
@click.option("--beside", metavar="NAME", help="What is shown beside it; where the two differ is shaded.")
@click.option("--run", "run_name", metavar="NAME", help="Which run; the normal cycle when not given.")
@click.option("--kind", type=click.Choice(_KINDS), default="timing", help="Of a drawing.")
@click.option("--signal", "only", multiple=True, metavar="NAME", help="Only this signal or rod. May be repeated.")
@click.option("--anti-repeat", is_flag=True, help="Relay: a held START runs one cycle only.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="OUT",
    help="Where to write it: a name that ends in .svg, .vcd or .csv says what. Without it, on the terminal.",
)
@click.option("--force", is_flag=True, help="Write over a file that is there.")
def chart(
    file: str | None,
    text: str | None,
    which: str,
    beside: str | None,
    run_name: str | None,
    kind: str,
    only: tuple[str, ...],
    anti_repeat: bool,
    output: Path | None,
    force: bool,
) -> None:
    """Draw a run of the machine on the terminal or as SVG, or write it as a waveform file (VCD) or a table (CSV).

    \b
    Examples:
      rungwright chart press.seq --kind motion-step
      rungwright chart press.seq -o press.svg
      rungwright chart press.seq --kind motion-step -o steps.svg
      rungwright chart press.seq --of one-shot --beside sequence --run "START held throughout" -o both.svg
      rungwright chart press.seq --run "STOP in step S2" -o press.vcd
    """
    from compiler.simulation.simulate import simulate
    from targets.simulation import NoSuchThing, logic_of, scenario_of
    from targets.target import Options

    ending = "" if output is None else output.suffix.casefold()
    if output is not None and ending not in _ENDINGS:
        refuse(f"{output} says not what to write; end it in .svg (drawing), .vcd (waveforms) or .csv (table)")
    if output is not None and output.exists() and not force:
        refuse(f"{output} is already there; choose another name, or add --force")
    program = understood(source_of(file, text))
    need_chart(program)
    options = Options(anti_repeat=anti_repeat)
    try:
        driver = logic_of(program, which, options)
        shadow = None if beside is None else logic_of(program, beside, options)
        scenario = scenario_of(program, run_name)
    except NoSuchThing as why:
        refuse(str(why))
    run = simulate(program.machine, driver, scenario, shadow=shadow, after_us=_AFTER_US)
    moved = (*program.machine.actuators, *program.machine.motors)
    known = {*(c.signal for c in run.changes), *(thing.name for thing in moved)}
    for name in only:
        if name not in known:
            refuse(f"nothing called {name} is ever on in this run; there are {', '.join(sorted(known))}")
    if output is None:
        click.echo(_typed(run, program, driver, shadow, kind, only), nl=False)
        return
    write_text(output, _made(run, program, driver, shadow, kind if ending == ".svg" else ending, only))
    click.echo(f"{output} written: {run.scenario.name} ({run.driver}{f' beside {run.shadow}' if run.shadow else ''})")


def _typed(
    run: Run, program: Understood, driver: Logic, shadow: Logic | None, kind: str, only: tuple[str, ...]
) -> str:
    """A run as letters, for the terminal."""
    from compiler.simulation.causes import causes
    from compiler.simulation.timeline import timeline
    from targets.motion import motion_step_text, motion_time_text

    machine = program.machine
    match kind:
        case "motion-step":
            return motion_step_text(run, machine, why=causes(run, machine, driver, shadow=shadow))
        case "motion-time":
            return motion_time_text(run, machine)
        case _ if only:
            chosen = {
                "changes": tuple(c for c in run.changes if c.signal in only),
                "moves": tuple(m for m in run.moves if m.actuator in only),
                "clocks": tuple(c for c in run.clocks if c.timer in only),
            }
            return timeline(run.model_copy(update=chosen), machine, chart=program.chart)
        case _:
            return timeline(run, machine, chart=program.chart)


def _made(
    run: Run, program: Understood, driver: Logic, shadow: Logic | None, kind: str, only: tuple[str, ...]
) -> str:
    """A run as what was asked for."""
    from compiler.simulation.causes import causes
    from compiler.walk.by_contacts import by_contacts
    from targets.motion import as_csv, as_vcd, motion_step_chart, motion_time_chart, timing_chart

    machine = program.machine
    match kind:
        case ".vcd":
            return as_vcd(run)
        case ".csv":
            return as_csv(run, machine)
        case "motion-step":
            return motion_step_chart(run, machine, why=causes(run, machine, driver, shadow=shadow))
        case "motion-time":
            return motion_time_chart(run, machine, why=causes(run, machine, driver, shadow=shadow))
        case _:
            why = by_contacts(causes(run, machine, driver, shadow=shadow), run, machine, driver)
            return timing_chart(run, machine, why=why, chart=program.chart, only=only)
