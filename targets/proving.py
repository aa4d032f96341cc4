"""The commands that prove: ``prove``, ``compare``, ``races``, ``retell``. They parse, call and print."""

from __future__ import annotations

import sys
from itertools import combinations
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from targets.driving import driving, proved
from targets.given import FOUND, UNSETTLED, refuse, write_text

if TYPE_CHECKING:
    from compiler.circuit import CircuitLogic
    from compiler.proof.verdict import Proof
    from compiler.races import RelayTimes
    from compiler.understand import Understood
    from targets.implementation import Implementation

__all__ = ["compare", "prove", "races", "retell"]


@click.command(short_help="Prove implementations against the sequence, over every timing.")
@click.argument("implementations", nargs=-1, required=True, metavar="IMPLEMENTATION...")
@click.argument("file", metavar="FILE")
@click.option("--brief", is_flag=True, help="Do not draw the differences.")
@click.option("--anti-repeat", is_flag=True, help="Relay arrangements by name: a held START runs one cycle only.")
@click.option("--strict", is_flag=True, help='"Same only if" counts as different, too.')
@click.option("--json", "as_json", is_flag=True, help="The verdicts as JSON.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="OUT.svg",
    help="Draw the differences there; of several each gets a number.",
)
def prove(
    implementations: tuple[str, ...],
    file: str,
    brief: bool,
    anti_repeat: bool,
    strict: bool,
    as_json: bool,
    output: Path | None,
) -> None:
    """Prove that an implementation does what the sequence in FILE says, or show the shortest run that it does not.

    An IMPLEMENTATION is a rung list (.rungs), a program (.st, .sfc), a chart (.json), another sequence, or the name
    of an arrangement. Exit codes: 0 same, 1 differs, 3 not settled.

    \b
    Examples:
      rungwright prove my-press.rungs press.seq
      rungwright prove on-delay off-delay one-shot press.seq
      rungwright prove my-press.rungs press.seq -o differs.svg
    """
    from targets.difference_papers import need_drawable, write_differences
    from targets.implementation import SEQUENCE

    need_drawable(output)
    program = _machine(file, _LAST)
    sequence = driving(SEQUENCE, program, anti_repeat)
    others = [driving(name, program, anti_repeat, quiet=as_json) for name in implementations]
    pairs = [(sequence, other) for other in others]
    proofs = [proved(a, b, program, quiet=as_json) for a, b in pairs]
    write_differences(output, proofs, pairs, program.machine)
    _end(proofs, program, others, brief=brief, strict=strict, as_json=as_json)


@click.command(short_help="Prove two implementations the same, or show where they part.")
@click.argument("implementations", nargs=-1, required=True, metavar="A B...")
@click.option("--machine", "machine_file", metavar="FILE", help="The sequence file that declares the devices.")
@click.option("--brief", is_flag=True, help="Do not draw the differences.")
@click.option("--anti-repeat", is_flag=True, help="Relay arrangements by name: a held START runs one cycle only.")
@click.option("--poles", type=click.IntRange(min=2), metavar="N", help="Contacts of a relay, at most.")
@click.option("--strict", is_flag=True, help='"Same only if" counts as different, too.')
@click.option("--json", "as_json", is_flag=True, help="The verdicts as JSON.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="OUT.svg",
    help="Draw the differences there; of several each gets a number.",
)
def compare(
    implementations: tuple[str, ...],
    machine_file: str | None,
    brief: bool,
    anti_repeat: bool,
    poles: int | None,
    strict: bool,
    as_json: bool,
    output: Path | None,
) -> None:
    """Prove that two implementations do the same, or show the shortest run in which they do not. Of several, every
    two are compared and a table is printed. A sequence file alone has all its relay arrangements compared: parts,
    rungs, verdicts, and what becomes of a held START, of STOP and of a lost supply.

    Each is a sequence file, a rung list (.rungs), a program (.st, .sfc), a chart (.json), or the name of an
    arrangement. The devices come from --machine, or from the first of them that is a sequence file. Exit codes: 0
    same, 1 differs, 3 not settled.

    \b
    Examples:
      rungwright compare press.seq
      rungwright compare mine.rungs yours.rungs --machine press.seq
      rungwright compare press.seq on-delay
      rungwright compare mine.rungs yours.st sequence --machine press.seq
      rungwright compare mine.rungs yours.rungs --machine press.seq -o differs.svg
    """
    from targets.difference_papers import need_drawable, write_differences

    need_drawable(output)
    if len(implementations) == 1 and machine_file is None and implementations[0].casefold().endswith(".seq"):
        if output is not None:
            raise click.UsageError("a table has no drawing: give two implementations with -o")
        _tabulate(implementations[0], anti_repeat=anti_repeat, poles=poles, strict=strict, as_json=as_json)
    if len(implementations) < 2:
        raise click.UsageError(
            "give two implementations, or more; one is held against the sequence by: rungwright prove"
        )
    machine = machine_file or next((name for name in implementations if name.casefold().endswith(".seq")), None)
    if machine is None:
        raise click.UsageError("say which machine they drive: --machine FILE, a sequence file with its devices")
    program = _machine(machine, _WITH)
    all_of_them = [driving(name, program, anti_repeat, quiet=as_json) for name in implementations]
    pairs = list(combinations(all_of_them, 2))
    proofs = [proved(a, b, program, quiet=as_json) for a, b in pairs]
    write_differences(output, proofs, pairs, program.machine)
    _end(proofs, program, all_of_them, brief=brief, strict=strict, as_json=as_json)


def _tabulate(file: str, *, anti_repeat: bool, poles: int | None, strict: bool, as_json: bool) -> NoReturn:
    """All relay arrangements of a sequence, in a table."""
    from targets.compare_table import show, table, table_json
    from targets.given import need_chart
    from targets.report import progress
    from targets.target import Options

    program = _machine(file, _LAST)
    need_chart(program)
    with progress(quiet=as_json) as told:
        found = table(program, Options(anti_repeat=anti_repeat, poles=poles or 0), told)
    if as_json:
        click.echo(table_json(found, program.machine))
    else:
        show(found, program.machine.title or "Sequence")
    if not found.sound:
        sys.exit(FOUND)
    _exit(found.proofs, strict=strict)


@click.command(short_help="Look at every order in which the relays of a circuit may move.")
@click.argument("circuit", metavar="CIRCUIT")
@click.argument("file", metavar="FILE")
@click.option("--pick-up", nargs=2, type=float, metavar="MS MS", help="Least and greatest time to pick up.")
@click.option("--drop-out", nargs=2, type=float, metavar="MS MS", help="Least and greatest time to drop out.")
@click.option("--middle", type=float, metavar="MS", help="Greatest time that contacts are in the middle.")
@click.option("--careful", is_flag=True, help="Only what a careful operator brings about.")
@click.option("--most", type=click.IntRange(min=1), default=300_000, metavar="PLACES", help="Give up after so many.")
@click.option("--all", "show_all", is_flag=True, help="Show every race found, not only the first few.")
@click.option("--anti-repeat", is_flag=True, help="An arrangement by name: a held START runs one cycle only.")
def races(
    circuit: str,
    file: str,
    pick_up: tuple[float, float] | None,
    drop_out: tuple[float, float] | None,
    middle: float | None,
    careful: bool,
    most: int,
    show_all: bool,
    anti_repeat: bool,
) -> None:
    """Say whether what a relay circuit does depends on the order in which its relays move.

    Every relay takes any time it likes to pick up or drop out, unless its times are given (all three); its contacts
    break before they make. The circuit is looked at in every situation that the machine in FILE brings it into.
    CIRCUIT is a rung list or the name of an arrangement. Where parts stand is a place; a large circuit has so many
    that they are not all looked at. Exit codes: 0 free of critical races, 1 not free, 3 not settled.

    \b
    Examples:
      rungwright races my-press.rungs press.seq
      rungwright races step-chain press.seq --pick-up 5 20 --drop-out 3 15 --middle 2
    """
    from compiler.proof.world import World
    from compiler.races import races as look
    from compiler.races.reachable import reachable
    from targets.proof_report import show_races
    from targets.report import progress

    program = _machine(file, _LAST)
    given = [time for time in (pick_up, drop_out, middle) if time is not None]
    if len(given) not in (0, 3):
        raise click.UsageError("give --pick-up, --drop-out and --middle together, or none of them")
    relays = driving(circuit, program, anti_repeat).circuit
    if relays is None:
        refuse(f"{circuit} is not a relay circuit; only relays race")
    with progress(quiet=False) as told:
        told("finding every situation")
        stimuli, whole = reachable(relays, program.machine, World(careful=careful), most_zones=_MOST_ZONES)
        times = _times(relays, pick_up, drop_out, middle)
        found = look(relays.circuit, program.machine, stimuli, times=times, most=most, told=told)
    show_races(found, whole=whole, most=None if show_all else 3)
    sys.exit(FOUND if found.critical else 0 if found.free and whole else UNSETTLED)


_MOST_ZONES = 50_000
"""So many for the situations that a machine brings a circuit into, or they are not all."""


def _times(
    relays: CircuitLogic,
    pick_up: tuple[float, float] | None,
    drop_out: tuple[float, float] | None,
    middle: float | None,
) -> dict[str, RelayTimes] | None:
    """The same times for every relay, in microseconds."""
    from compiler.races import RelayTimes
    from grammar.rungs.tree import Kind

    if pick_up is None or drop_out is None or middle is None:
        return None
    if not all(isfinite(ms) for ms in (*pick_up, *drop_out, middle)):
        raise click.UsageError("a relay's times are numbers of milliseconds")
    try:
        up_least, up_most, down_least, down_most, between = (round(1000 * ms) for ms in (*pick_up, *drop_out, middle))
        times = RelayTimes((up_least, up_most), (down_least, down_most), between)
    except ValueError as wrong:
        raise click.UsageError(str(wrong)) from None
    return {d.name.text: times for d in relays.circuit.devices if d.kind is Kind.RELAY}


@click.command(short_help="Tell in plain words what a circuit or program does.")
@click.argument("implementation", metavar="CIRCUIT")
@click.option("--machine", "file", required=True, metavar="FILE", help="The sequence file that declares the devices.")
@click.option("-o", "--output", metavar="FILE", help="Write the sequence there instead of showing it.")
@click.option("--brief", is_flag=True, help="Do not draw the differences.")
def retell(implementation: str, file: str, output: str | None, brief: bool) -> None:
    """Try a rung list or a program out on its machine, write down what it does as a sequence, and prove that.

    The devices come from the file given with --machine, which needs no cycle. What words do not say is told as well.

    \b
    Examples:
      rungwright retell inherited.rungs --machine devices.seq
      rungwright retell press.st --machine press.seq -o press-again.seq
    """
    from compiler.retell.retell import retell as tell
    from targets.proof_report import show_retold
    from targets.report import progress

    program = _machine(file, _WITH)
    original = driving(implementation, program, anti_repeat=False)
    with progress(quiet=False) as told:
        retold = tell(original.logic, program.machine, told=told)
    if output is not None and retold.text:
        path = Path(output)
        if path.exists():
            refuse(f"{path} is already there; choose another name")
        write_text(path, retold.text)
    show_retold(retold, written=output, draw=not brief)
    if retold.proof is None:
        sys.exit(UNSETTLED)
    _exit([retold.proof], strict=False)


_LAST = "the sequence file (.seq) comes last"
_WITH = "--machine takes the sequence file (.seq) that declares the devices"


def _machine(file: str, place: str) -> Understood:
    """The program whose devices are the machine; ``place`` tells where its file is given."""
    from targets.implementation import Unusable, machine_of
    from targets.screen import show_messages
    from targets.target import find_targets

    target = next((t for t in find_targets() if file.casefold().endswith(t.suffixes)), None)
    if target is not None:
        refuse(f"{file} is an implementation, no machine: {place}")
    try:
        return machine_of(file)
    except Unusable as unusable:
        show_messages(unusable.understood)
        sys.exit(FOUND)


def _end(
    proofs: list[Proof],
    program: Understood,
    implementations: list[Implementation],
    *,
    brief: bool,
    strict: bool,
    as_json: bool,
) -> None:
    """Print the verdicts and exit with what they come to."""
    from grammar.diagnostic import to_json
    from targets.proof_report import claim, proofs_json, show_proof, show_table
    from targets.screen import console, paragraph
    from targets.target import CAUTION

    if as_json:
        messages = [to_json(notice, each.source) for each in implementations for notice in each.notices]
        click.echo(proofs_json(proofs, program.machine, messages))
    else:
        if len(proofs) > 1:
            show_table(proofs)
        for proof in proofs:
            show_proof(proof, program, draw=not brief)
        console().print()
        paragraph(claim(proofs), 0, "dim")
        console().print()
        paragraph(CAUTION, 0)
    _exit(proofs, strict=strict)


def _exit(proofs: list[Proof], *, strict: bool) -> NoReturn:
    """Exit with what the verdicts come to."""
    from compiler.proof.verdict import Standing

    found = {proof.standing for proof in proofs}
    never_settles = any(proof.chatters for proof in proofs)
    if never_settles or Standing.DIFFERS in found or (strict and Standing.SAME_ONLY_IF in found):
        sys.exit(FOUND)
    sys.exit(UNSETTLED if Standing.NOT_SETTLED in found else 0)
