"""The command line: it parses options, calls the public API and prints. Nothing is decided here.

Heavy modules are imported inside the commands that need them, so that ``rungwright`` itself starts quickly.
"""

from __future__ import annotations

import sys
from io import TextIOWrapper
from pathlib import Path

import click

from targets.building import build
from targets.charting import chart
from targets.driving import DRIVES, WHICH_RUN, driving
from targets.given import (
    FOUND,
    need_chart,
    program_options,
    read_bytes,
    refuse,
    source_of,
    warned,
    write_text,
)
from targets.given import understood as understand
from targets.proving import compare, prove, races, retell
from targets.size import size
from targets.telling import tell

__all__ = ["main"]

WELCOME = """\
Rungwright turns a machine sequence in plain words into relay rungs, structured text and charts, reads back what it
printed, and says whether each does what you wrote.

Try these three first:

    rungwright build --text "extend until at-end, hold 30 s, retract"
    rungwright new my-machine.seq
    rungwright build my-machine.seq -o built

rungwright --help lists every command.

Its output is a draft for a competent person, never a safety function."""


@click.group(invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="rungwright", prog_name="rungwright")
@click.pass_context
def main(context: click.Context) -> None:
    """Machine sequences in plain words, compiled to relay rungs, structured text and charts, and proved.

    Exit codes: 0 all well; 1 faults, or a difference that was not announced; 2 a command that cannot be carried out;
    3 not settled.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without box characters shows question marks
    if context.invoked_subcommand is None:
        click.echo(WELCOME)


# --- commands -------------------------------------------------------------------------------------------------


@main.command(short_help="Say what is wrong or questionable in a program.")
@program_options
@click.option("--strict", is_flag=True, help="Warnings count as found, too.")
@click.option("--json", "as_json", is_flag=True, help="The messages as JSON.")
def check(file: str | None, text: str | None, strict: bool, as_json: bool) -> None:
    """Read a program and say what is wrong or questionable; nothing is built.

    \b
    Examples:
      rungwright check press.seq
      rungwright check press.seq --json
    """
    from targets.screen import messages_json, show_messages, show_told

    understood = understand(source_of(file, text, as_json=as_json))
    if as_json:
        click.echo(messages_json(understood.diagnostics, understood.source))
    else:
        show_told(understood)
        show_messages(understood)
    sys.exit(FOUND if understood.chart is None or (strict and warned(understood)) else 0)


@main.command("format")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--write", is_flag=True, help="Change the files; without it the text is printed.")
@click.option("--check", "only_check", is_flag=True, help="Only say which files would change; exit 1 if any would.")
def format_files(files: tuple[str, ...], write: bool, only_check: bool) -> None:
    """Write programs in their one canonical form. Comments are kept and the meaning never changes.

    \b
    Examples:
      rungwright format press.seq
      rungwright format *.seq --write
    """
    from grammar.diagnostic import Severity
    from grammar.sequence.write import format_text
    from targets.screen import show_diagnostics

    code = 0
    for name in files:
        source = source_of(name, None)
        formatted, diagnostics = format_text(source)
        if any(d.severity is Severity.FAULT for d in diagnostics):
            show_diagnostics(diagnostics, source)
            code = FOUND
        elif only_check:
            if formatted != source.text:
                click.echo(f"{name} would change")
                code = FOUND
        elif not write or name == "-":
            click.echo(formatted, nl=False)
        elif formatted != source.text:
            write_text(Path(name), formatted)
            click.echo(f"{name} written")
    sys.exit(code)


@main.command(short_help="Write a commented starter program.")
@click.argument("file", default="machine.seq", type=click.Path(path_type=Path))
def new(file: Path) -> None:
    """Write a commented starter program to FILE (machine.seq when not given). Never over an existing file.

    \b
    Example:
      rungwright new press.seq
    """
    from importlib.resources import files

    from targets.files import new_file

    text = files("targets").joinpath("starter.seq").read_text(encoding="utf-8")
    try:
        new_file(file, text)
    except FileExistsError:
        refuse(f"{file} is already there; choose another name")
    except OSError as wrong:
        refuse(f"{file} cannot be written: {wrong.strerror}")
    click.echo(f"{file} written. Change it to suit your machine, then:  rungwright build {file} -o built")


@main.command(short_help="Run the machine on paper, moment by moment.")
@program_options
@click.option("--arrangement", "--of", "which", default="sequence", metavar="NAME", help=DRIVES)
@click.option("--run", "run_name", metavar="NAME", help=WHICH_RUN)
@click.option("--runs", "list_runs", is_flag=True, help="List the runs there are.")
@click.option(
    "--save", type=click.Path(path_type=Path), metavar="FILE", help="Keep the run as JSON, to replay later."
)
@click.option("--replay", type=click.Path(path_type=Path), metavar="FILE", help="Replay a kept run.")
@click.option("--anti-repeat", is_flag=True, help="Relay: a held START runs one cycle only.")
def simulate(
    file: str | None,
    text: str | None,
    which: str,
    run_name: str | None,
    list_runs: bool,
    save: Path | None,
    replay: Path | None,
    anti_repeat: bool,
) -> None:
    """Run the machine on paper and show what happens, moment by moment.

    \b
    Examples:
      rungwright simulate press.seq
      rungwright simulate press.seq --runs
      rungwright simulate press.seq --arrangement on-delay --run "START held throughout"
      rungwright simulate press.seq --save run.json
    """
    from targets.report import show_runs, show_timeline
    from targets.screen import paragraph
    from targets.simulation import NoSuchThing, is_kept, kept, replayed, runs, simulated
    from targets.target import CAUTION, Options

    understood = understand(source_of(file, text))
    need_chart(understood)
    try:
        if list_runs:
            show_runs(runs(understood))
            return
        if replay is not None:
            options = Options(anti_repeat=anti_repeat)
            record = replayed(understood, read_bytes(replay), driving(which, understood, anti_repeat).logic, options)
        else:
            record = simulated(understood, driving(which, understood, anti_repeat).logic, run_name)
    except NoSuchThing as why:
        refuse(str(why))
    if save is not None:
        if save.exists() and not is_kept(read_bytes(save)):
            refuse(f"{save} is already there and is not a run that Rungwright kept; choose another name")
        write_text(save, kept(record))
    show_timeline(understood, record)
    click.echo()
    paragraph(CAUTION, 0)


@main.command()
@click.argument("code", required=False)
def explain(code: str | None) -> None:
    """Explain a message by its code; without one, list every code.

    \b
    Example:
      rungwright explain RW303
    """
    from compiler.catalogue import entries
    from targets.screen import show_entries, show_entry

    known = entries()
    if code is None:
        show_entries(known.values())
        return
    entry = known.get(code.upper())
    if entry is None:
        refuse(f"no message has the code {code}; rungwright explain lists them all")
    show_entry(entry)


@main.command()
def schema() -> None:
    """Print the JSON schema of chart files."""
    from compiler.document import schema as published

    click.echo(published(), nl=False)


@main.command(short_help="Print the script for completion in a shell.")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the script that completes commands and options in your shell.

    \b
    Example:
      rungwright completion bash >> ~/.bashrc
    """
    from click.shell_completion import get_completion_class

    found = get_completion_class(shell)
    assert found is not None
    click.echo(found(main, {}, "rungwright", "_RUNGWRIGHT_COMPLETE").source())


for command in (build, prove, compare, races, retell, size, tell, chart):
    main.add_command(command)
