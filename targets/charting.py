"""The command ``chart``: any run of a machine as a drawing, a waveform file or a table."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

import click

from targets.driving import DRIVES, WHICH_RUN, driving, proved, scenario_named
from targets.given import need_chart, refuse, source_of, understood, write_text

if TYPE_CHECKING:
    from compiler.logic import Logic
    from compiler.machine import Machine
    from compiler.simulation.run import Run
    from compiler.understand import Understood

__all__ = ["chart"]

_KINDS = ("timing", "motion-step", "motion-time")
_ENDINGS = (".svg", ".vcd", ".csv")
_AFTER_US = 3_000_000  # how long a run goes on after a difference
_DIFFERENCE = "difference"


@click.command(short_help="Draw a run: timing, motion against steps, motion against time.")
@click.argument("file", required=False, metavar="[FILE]")
@click.option("--text", metavar="WORDS", help="The program itself, in place of a file.")
@click.option("--arrangement", "--of", "which", default="sequence", metavar="NAME", help=DRIVES)
@click.option("--beside", metavar="NAME", help="What is shown beside it; where the two differ is shaded.")
@click.option("--run", "run_name", metavar="NAME", help=WHICH_RUN)
@click.option("--runs", "list_runs", is_flag=True, help="List the runs there are.")
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
    list_runs: bool,
    kind: str,
    only: tuple[str, ...],
    anti_repeat: bool,
    output: Path | None,
    force: bool,
) -> None:
    """Draw a run of the machine on the terminal or as SVG, or write it as a waveform file (VCD) or a table (CSV: pure
    data; the caution is in the other files).

    Besides the normal cycle there are runs with a STOP in each step, START held or pressed early, a lost supply,
    jammed rods, stuck switches and more (--runs lists them), and with an arrangement the shortest run in which it
    does otherwise than the sequence: "difference", "difference 2" and so on.

    \b
    Examples:
      rungwright chart press.seq --kind motion-step
      rungwright chart press.seq --arrangement on-delay -o press.svg
      rungwright chart press.seq --run "STOP in step S2" -o press.vcd
      rungwright chart press.seq --arrangement one-shot --run difference
      rungwright chart press.seq --arrangement mine.rungs --beside sequence --run "START held" -o both.svg
    """
    from targets.report import show_runs
    from targets.simulation import runs
    from targets.target import CAUTION

    ending = _ending(output, force)
    program = understood(source_of(file, text))
    need_chart(program)
    if list_runs:
        show_runs(runs(program))
        return
    ran = _ran(program, which, beside, run_name, anti_repeat)
    _need_signals(ran, only)
    if output is None:
        click.echo("\n".join((_typed(ran, kind, only), *wrap(CAUTION, 80))))
        return
    write_text(output, _made(ran, kind if ending == ".svg" else ending, only))
    run = ran.run
    click.echo(f"{output} written: {run.scenario.name} ({run.driver}{f' beside {run.shadow}' if run.shadow else ''})")


@dataclass(frozen=True, slots=True)
class _Ran:
    """A run, and what it was made with."""

    run: Run
    program: Understood
    driver: Logic
    shadow: Logic | None


def _ending(output: Path | None, force: bool) -> str:
    """What a file is by the end of its name. Refuses one that says nothing, and one that is there."""
    if output is None:
        return ""
    ending = output.suffix.casefold()
    if ending not in _ENDINGS:
        refuse(f"{output} says not what to write; end it in .svg (drawing), .vcd (waveforms) or .csv (table)")
    if output.exists() and not force:
        refuse(f"{output} is already there; choose another name, or add --force")
    return ending


def _ran(program: Understood, which: str, beside: str | None, run_name: str | None, anti_repeat: bool) -> _Ran:
    from compiler.simulation.simulate import simulate

    if run_name is not None and run_name.casefold().split()[:1] == [_DIFFERENCE]:
        return _differing(program, which, beside, run_name, anti_repeat)
    driver = driving(which, program, anti_repeat).logic
    shadow = None if beside is None else driving(beside, program, anti_repeat).logic
    scenario = scenario_named(run_name, program)
    run = simulate(program.machine, driver, scenario, shadow=shadow, after_us=_AFTER_US)
    return _Ran(run, program, driver, shadow)


def _differing(program: Understood, which: str, beside: str | None, run_name: str, anti_repeat: bool) -> _Ran:
    """A run in which two do not do the same, as the proof found it."""
    from targets.implementation import SEQUENCE

    if which == SEQUENCE and beside is None:
        refuse("from what should the sequence differ? Name an --arrangement")
    number = run_name.split()[1:] or ["1"]
    if len(number) > 1 or not number[0].isdecimal() or number[0].strip("0") == "":
        refuse(f'no run is called "{run_name}"; differences are counted: difference, difference 2, difference 3')
    # As compare draws them: the sequence drives, and the arrangement is beside it.
    first, second = (beside or SEQUENCE, which) if which != SEQUENCE else (which, beside or SEQUENCE)
    driver, shadow = (driving(name, program, anti_repeat) for name in (first, second))
    proof = proved(driver, shadow, program)
    shown = [outside.run for outside in proof.outside if outside.run is not None]
    if not shown:
        refuse(f"no difference of {shadow.logic.name} from {driver.logic.name} is known that a run shows")
    if int(number[0]) > len(shown):
        there = "is one difference" if len(shown) == 1 else f"are {len(shown)} differences"
        refuse(f"there {there} of {shadow.logic.name} from {driver.logic.name}, and no {run_name}")
    return _Ran(shown[int(number[0]) - 1], program, driver.logic, shadow.logic)


def _need_signals(ran: _Ran, only: tuple[str, ...]) -> None:
    machine = ran.program.machine
    moved = (*machine.actuators, *machine.motors)
    known = {*(c.signal.partition(" = ")[0] for c in ran.run.changes), *(thing.name for thing in moved)}
    for name in only:
        if name not in known:
            refuse(f"nothing called {name} is ever on in this run; there are {', '.join(sorted(known))}")


def _signals(run: Run, only: tuple[str, ...]) -> Run:
    """A record of nothing but some signals and rods; all of it where none are named."""
    if not only:
        return run
    kept = {
        "changes": tuple(c for c in run.changes if c.signal.partition(" = ")[0] in only),
        "moves": tuple(m for m in run.moves if m.actuator in only),
        "clocks": tuple(c for c in run.clocks if c.timer in only),
    }
    return run.model_copy(update=kept)


def _rods(run: Run, machine: Machine, only: tuple[str, ...]) -> tuple[Run, Machine]:
    """A run and a machine in which nothing but some rods and motors moves; all where none are named. What switches do
    is kept: it tells why a rod sets out."""
    if not only:
        return run, machine
    fewer = _rods_of(machine, only)
    if not (fewer.actuators or fewer.motors or any(load.name in only for load in fewer.loads)):
        refuse("a motion chart shows rods and motors; name one of them as --signal, or take --kind timing")
    return run.model_copy(update={"moves": tuple(m for m in run.moves if m.actuator in only)}), fewer


def _rods_of(machine: Machine, only: tuple[str, ...]) -> Machine:
    from compiler.machine import LoadKind

    if not only:
        return machine
    bolted = {
        "actuators": tuple(a for a in machine.actuators if a.name in only),
        "motors": tuple(m for m in machine.motors if m.name in only),
        "loads": tuple(x for x in machine.loads if x.kind is LoadKind.MOTOR and x.name in only),
    }
    return machine.model_copy(update=bolted)


def _typed(ran: _Ran, kind: str, only: tuple[str, ...]) -> str:
    """A run as letters, for the terminal."""
    from compiler.simulation.causes import causes
    from compiler.simulation.timeline import timeline
    from targets.motion import motion_step_text, motion_time_text

    machine = ran.program.machine
    match kind:
        case "motion-step":
            why = causes(ran.run, machine, ran.driver, shadow=ran.shadow)
            return motion_step_text(*_rods(ran.run, machine, only), why=why)
        case "motion-time":
            return motion_time_text(*_rods(ran.run, machine, only))
        case _:
            return timeline(_signals(ran.run, only), machine, chart=ran.program.chart)


def _made(ran: _Ran, kind: str, only: tuple[str, ...]) -> str:
    """A run as what was asked for."""
    from compiler.simulation.causes import causes
    from compiler.walk.by_contacts import by_contacts
    from targets.motion import as_csv, as_vcd, difference_chart, motion_step_chart, motion_time_chart, timing_chart

    run, machine = ran.run, ran.program.machine
    match kind:
        case ".vcd":
            return as_vcd(_signals(run, only))
        case ".csv":
            return as_csv(_signals(run, only), _rods_of(machine, only))
        case "timing" if ran.shadow is not None and not only:
            return difference_chart(run, machine, ran.driver, ran.shadow, chart=ran.program.chart)
    why = causes(run, machine, ran.driver, shadow=ran.shadow)
    match kind:
        case "motion-step":
            return motion_step_chart(*_rods(run, machine, only), why=why)
        case "motion-time":
            return motion_time_chart(*_rods(run, machine, only), why=why)
        case _:
            why = by_contacts(why, run, machine, ran.driver)
            return timing_chart(run, machine, why=why, chart=ran.program.chart, only=only)
