"""The commands that prove: ``prove`` and ``compare``. Like every command they parse, call and print."""

from __future__ import annotations

import sys
from collections.abc import Callable
from itertools import combinations
from typing import TYPE_CHECKING

import click

from targets.given import FOUND, UNSETTLED, refuse

if TYPE_CHECKING:
    from compiler.proof.verdict import Proof
    from compiler.understand import Understood
    from targets.implementation import Implementation

__all__ = ["compare", "prove"]


@click.command(short_help="Prove implementations against the sequence, over every timing.")
@click.argument("implementations", nargs=-1, required=True, metavar="IMPLEMENTATION...")
@click.argument("file", metavar="FILE")
@click.option("--brief", is_flag=True, help="Do not draw the differences.")
@click.option("--anti-repeat", is_flag=True, help="Relay arrangements by name: a held START runs one cycle only.")
@click.option("--strict", is_flag=True, help='"Same only if" counts as different, too.')
@click.option("--json", "as_json", is_flag=True, help="The verdicts as JSON.")
def prove(
    implementations: tuple[str, ...], file: str, brief: bool, anti_repeat: bool, strict: bool, as_json: bool
) -> None:
    """Prove that an implementation does what the sequence in FILE says, or show the shortest run that it does not.

    An IMPLEMENTATION is a rung list (.rungs), a program (.st), a chart (.json), another sequence, or the name of an
    arrangement. Exit codes: 0 same, 1 differs, 3 not settled.

    \b
    Examples:
      rungwright prove my-press.rungs press.seq
      rungwright prove on-delay off-delay one-shot press.seq
    """
    from targets.implementation import SEQUENCE

    program = _machine(file)
    sequence = _implementation(SEQUENCE, program, anti_repeat)
    others = [_implementation(name, program, anti_repeat) for name in implementations]
    proofs = [_proof(sequence, other, program, as_json) for other in others]
    _end(proofs, program, brief=brief, strict=strict, as_json=as_json)


@click.command(short_help="Prove two implementations the same, or show where they part.")
@click.argument("implementations", nargs=-1, required=True, metavar="A B...")
@click.option("--machine", "machine_file", metavar="FILE", help="The sequence file that declares the devices.")
@click.option("--brief", is_flag=True, help="Do not draw the differences.")
@click.option("--anti-repeat", is_flag=True, help="Relay arrangements by name: a held START runs one cycle only.")
@click.option("--strict", is_flag=True, help='"Same only if" counts as different, too.')
@click.option("--json", "as_json", is_flag=True, help="The verdicts as JSON.")
def compare(
    implementations: tuple[str, ...],
    machine_file: str | None,
    brief: bool,
    anti_repeat: bool,
    strict: bool,
    as_json: bool,
) -> None:
    """Prove that two implementations do the same, or show the shortest run in which they do not. Of several, every
    two are compared and a table is printed.

    Each is a sequence file, a rung list (.rungs), a program (.st), a chart (.json), or the name of an arrangement.
    The devices come from --machine, or from the first of them that is a sequence file. Exit codes: 0 same, 1 differs,
    3 not settled.

    \b
    Examples:
      rungwright compare mine.rungs yours.rungs --machine press.seq
      rungwright compare press.seq on-delay
      rungwright compare mine.rungs yours.st sequence --machine press.seq
    """
    if len(implementations) < 2:
        raise click.UsageError("give two implementations, or more")
    machine = machine_file or next((name for name in implementations if name.casefold().endswith(".seq")), None)
    if machine is None:
        raise click.UsageError("say which machine they drive: --machine FILE, a sequence file with its devices")
    program = _machine(machine)
    all_of_them = [_implementation(name, program, anti_repeat) for name in implementations]
    proofs = [_proof(a, b, program, as_json) for a, b in combinations(all_of_them, 2)]
    _end(proofs, program, brief=brief, strict=strict, as_json=as_json)


def _machine(file: str) -> Understood:
    from targets.implementation import Unusable, machine_of
    from targets.screen import show_messages

    try:
        return machine_of(file)
    except Unusable as unusable:
        show_messages(unusable.understood)
        sys.exit(FOUND)


def _implementation(name: str, program: Understood, anti_repeat: bool) -> Implementation:
    from grammar.reading import ReadBack
    from targets.implementation import Unusable, implementation
    from targets.screen import show_diagnostics, show_messages
    from targets.simulation import NoSuchThing
    from targets.target import Options

    try:
        return implementation(name, program, Options(anti_repeat=anti_repeat))
    except NoSuchThing as why:
        refuse(str(why))
    except Unusable as unusable:
        show_messages(unusable.understood)
    except ReadBack as unreadable:
        show_diagnostics(unreadable.diagnostics, unreadable.source)
    sys.exit(FOUND)


def _proof(driver: Implementation, shadow: Implementation, program: Understood, quiet: bool) -> Proof:
    from compiler.proof.prove import prove as prove_same
    from targets.report import progress

    with progress(quiet=quiet) as told:
        hear: Callable[[str], None] = told
        return prove_same(driver.logic, shadow.logic, program.machine, told=hear)


def _end(proofs: list[Proof], program: Understood, *, brief: bool, strict: bool, as_json: bool) -> None:
    """Print the verdicts and exit with what they come to."""
    from compiler.proof.verdict import Standing
    from targets.proof_report import CLAIM, proofs_json, show_proof, show_table
    from targets.screen import console, paragraph
    from targets.target import CAUTION

    if as_json:
        click.echo(proofs_json(proofs, program.machine))
    else:
        if len(proofs) > 1:
            show_table(proofs)
        for proof in proofs:
            show_proof(proof, program.machine, draw=not brief)
        console().print()
        paragraph(CLAIM, 0, "dim")
        console().print()
        paragraph(CAUTION, 0)
    found = {proof.standing for proof in proofs}
    if Standing.DIFFERS in found or (strict and Standing.SAME_ONLY_IF in found):
        sys.exit(FOUND)
    sys.exit(UNSETTLED if Standing.NOT_SETTLED in found else 0)
