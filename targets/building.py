"""The command ``build``. It parses, calls and prints."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from targets.given import FOUND, UNSETTLED, program_options, refuse, source_of, understood, warned

if TYPE_CHECKING:
    from compiler.understand import Understood
    from targets.build import Built
    from targets.files import Written
    from targets.target import Options

__all__ = ["build"]


def emitter_options(command: Callable[..., None]) -> Callable[..., None]:
    """What may be asked of emitters and of the papers of circuits: the command is given it all as ``options``."""

    @wraps(command)
    def with_options(
        *,
        arrangement: tuple[str, ...],
        anti_repeat: bool,
        poles: int | None,
        symbols: str,
        colours: str,
        control: str,
        letters: str,
        **others: Any,
    ) -> None:
        from targets.choices import Letters, Standard, Style, Supply
        from targets.target import Options

        options = Options(
            anti_repeat=anti_repeat,
            arrangements=arrangement,
            poles=poles or 0,
            symbols={"iec": Style.IEC, "nema": Style.NORTH_AMERICAN}[symbols],
            colours={"iec": Standard.IEC, "nfpa": Standard.NFPA}[colours],
            supply=Supply(control),
            letters={"named": Letters.AS_NAMED, "jic": Letters.JIC, "iec": Letters.IEC}[letters],
        )
        command(options=options, **others)

    for option in reversed(_EMITTER_OPTIONS):
        option(with_options)
    return with_options


_EMITTER_OPTIONS = (
    click.option(
        "--arrangement",
        multiple=True,
        metavar="NAME",
        help="Only this relay arrangement: on-delay, off-delay, one-shot, step-chain, step-counter, one-hot or "
        "cascade. May be repeated.",
    ),
    click.option("--anti-repeat", is_flag=True, help="Relay: a held START runs one cycle only."),
    click.option("--poles", type=click.IntRange(min=2), metavar="N", help="Relay: contacts of one, at most."),
    click.option("--symbols", type=click.Choice(["iec", "nema"]), default="iec", help="Of ladder sheets."),
    click.option("--colours", type=click.Choice(["iec", "nfpa"]), default="iec", help="Of wires in wiring lists."),
    click.option("--control", type=click.Choice(["dc", "ac"]), default="dc", help="What feeds the control circuit."),
    click.option(
        "--letters", type=click.Choice(["named", "jic", "iec"]), default="named", help="Of devices on papers."
    ),
)


@click.command(short_help="Print every artefact of a program, and prove each.")
@program_options
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="DIR", help="Write every artefact there.")
@click.option("--show", multiple=True, metavar="WORD", help="Print the artefacts whose name or file holds WORD.")
@click.option("--differences", is_flag=True, help="Show the shortest run of each difference, moment by moment.")
@emitter_options
@click.option("--pdf", is_flag=True, help="With -o: the sheet set as a PDF, too.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Of the PDF.")
@click.option("--quick", is_flag=True, help="Only simulate a few hundred runs; prove nothing.")
@click.option("--strict", is_flag=True, help="Warnings and announced differences count as found, too.")
@click.option("--force", is_flag=True, help="Write over files that Rungwright did not write.")
@click.option("--json", "as_json", is_flag=True, help="The report as JSON.")
def build(
    file: str | None,
    text: str | None,
    output: Path | None,
    show: tuple[str, ...],
    differences: bool,
    options: Options,
    pdf: bool,
    paper: str,
    quick: bool,
    strict: bool,
    force: bool,
    as_json: bool,
) -> None:
    """Read a program, print every artefact, read each back and prove it against the sequence.

    \b
    Examples:
      rungwright build --text "extend until at-end, hold 30 s, retract"
      rungwright build press.seq -o built
      rungwright build press.seq -o built --pdf --paper letter
      rungwright build press.seq --arrangement on-delay --anti-repeat --show rungs
      rungwright build press.seq --arrangement one-shot --differences
      cat press.seq | rungwright build - --json
    """
    from targets.build import build_all
    from targets.choices import Paper
    from targets.files import Written
    from targets.papers import sheet_set_name, with_papers
    from targets.report import build_json, progress, show_build

    _need_place(output, pdf=pdf)
    program = understood(source_of(file, text, as_json=as_json))
    name = "" if output is None else sheet_set_name(output, program.machine.title)
    with progress(quiet=as_json) as told:
        built = build_all(program, options, quick=quick, told=told)
        if built is not None and output is not None:
            told("drawing")
            built = with_papers(program, built, options, name=name, pdf=Paper(paper) if pdf else None)
    written = Written()
    if built is not None:
        _need_arrangements(built, options)
        if output is not None:
            if name != "index" and not as_json:
                click.echo(
                    f"index.html in {output} is not the page of this machine; its page is {name}.html", err=True
                )
            written = _written(output, program, built, force=force)
    if as_json:
        click.echo(build_json(program, built, written))
    else:
        show_build(program, built, written=written, show=show, differences=differences)
    found = built is None or built.found(strict=strict) or (strict and warned(program))
    sys.exit(FOUND if found else UNSETTLED if built is not None and built.unsettled else 0)


def _need_place(output: Path | None, *, pdf: bool) -> None:
    """Exits where nothing could be written in the end, before anybody waits for it."""
    from targets.files import NotWritten, need_folder
    from targets.sheet_set.paper import NoPrinter, need_printer

    if pdf and output is None:
        refuse("--pdf writes a file; say where with -o DIR")
    try:
        if pdf:
            need_printer()
        if output is not None:
            need_folder(output)
    except (NoPrinter, NotWritten) as why:
        refuse(str(why))


def _need_arrangements(built: Built, options: Options) -> None:
    """Exits where there is no arrangement of a name that was asked for, as opposed to one that does not fit."""
    for refusal in built.refused:
        if refusal.name in options.arrangements:
            refuse(refusal.reason)


def _written(output: Path, program: Understood, built: Built, *, force: bool) -> Written:
    """Everything that was printed, as files. Exits where that can't be."""
    from targets.files import NotWritten, write_files

    files = {printed.artefact.file: printed.artefact.content for printed in built.printed}
    try:
        return write_files(output, files, of=program.machine.title, force=force)
    except NotWritten as why:
        refuse(str(why))
