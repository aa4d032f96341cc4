"""The command ``tell``. It parses, calls and prints."""

from __future__ import annotations

from pathlib import Path

import click

from targets.driving import driving
from targets.given import need_chart, read_bytes, refuse, source_of, understood, write_text

__all__ = ["tell"]

_OURS = b"Caution: this is not a safety function."


@click.command(short_help="Tell a cycle in order of cause, as at the board.")
@click.argument("file", metavar="FILE")
@click.option(
    "--arrangement",
    "which",
    default="sequence",
    metavar="NAME",
    help="What drives: a relay arrangement, another artefact's name, or a rung list or program in a file; the "
    "sequence itself when not given.",
)
@click.option("--level", type=click.Choice(["short", "full"]), default="full", help="How much is told.")
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FILE", help="Write it as .md or .html.")
@click.option("--anti-repeat", is_flag=True, help="Relay: a held START runs one cycle only.")
def tell(file: str, which: str, level: str, output: Path | None, anti_repeat: bool) -> None:
    """Tell what happens in a cycle of FILE and why: which rung gains continuity through which contacts, what valves
    and cylinders make of it; every other way of its choices; then what STOP does in each phase, and what the
    arrangement does not know. Structured text and function charts have no rungs: of them is told what they switch, by
    the steps of the sequence.

    \b
    Examples:
      rungwright tell press.seq --arrangement on-delay
      rungwright tell press.seq --arrangement mine.rungs --level short
      rungwright tell press.seq --arrangement step-chain -o step-chain.html
    """
    from targets.told_page import told_page
    from targets.walkthrough import Level, as_markdown, as_text, walk_through

    if output is not None and output.suffix not in (".md", ".html"):
        refuse(f"{output} should end in .md or .html")
    program = understood(source_of(file, None))
    need_chart(program)
    assert program.chart is not None
    logic = driving(which, program, anti_repeat, quiet=True).logic
    told = walk_through(program.machine, program.chart, logic, level=Level(level))
    if output is None:
        click.echo(as_text(told), nl=False)
        return
    if output.exists() and (not output.is_file() or _OURS not in read_bytes(output)):
        refuse(f"{output} is already there and is no walk-through; choose another name")
    markdown = output.suffix == ".md"
    write_text(output, as_markdown(told) if markdown else told_page(program.machine, program.chart, logic, told))
    click.echo(f"{output} written")
