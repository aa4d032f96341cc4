"""Reading a program: lay out, parse each clause, assemble, judge. All faults of a file come out of one run."""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Severity
from grammar.layout import Clause, lay_out
from grammar.reading import Reading
from grammar.sequence import tree
from grammar.sequence.assemble import Assembly
from grammar.sequence.build import build
from grammar.sequence.explain import explain, too_deep
from grammar.sequence.joining import in_letters, joined, leads_to
from grammar.sequence.judge import has_blocks, judge
from grammar.sequence.parse import Stopped, TooDeep, parse
from grammar.sequence.settle import settle
from grammar.sequence.words import reserved
from grammar.source import Source, Span

__all__ = ["MOST_FAULTS", "read"]

MOST_FAULTS = 100
"""After so many faults reading stops: most likely it is the wrong file."""


def read(source: Source) -> Reading[tree.Program]:
    """The program a text says, and everything at fault in it (codes RW010 to RW019 and RW1xx). Never raises."""
    layout = lay_out(source)
    found = list(layout.diagnostics)
    assembly = Assembly()
    for line in layout.lines:
        assembly.open_line(line)
        for clause in joined(line.clauses):
            if len(found) + len(assembly.found) > MOST_FAULTS:
                break
            node = _node(clause, assembly, found)
            assembly.skip(clause) if node is None else assembly.add(node)
        assembly.close_line()
    program = settle(assembly.program(len(source.text)))
    found += assembly.found
    found += judge(program)
    found = _tabs_told(found, layout.unsure) if layout.unsure and has_blocks(program) else found
    return Reading(source, program, _in_order(found))


def _node(clause: Clause, assembly: Assembly, found: list[Diagnostic]) -> tree.Node | None:
    """The clause as a node; where it can't be read a fault is noted, once, and the likeliest meaning kept if any."""
    if not clause.readable:
        return None
    parsed = parse(clause.text, _start(clause))
    contact = not isinstance(parsed, Stopped | TooDeep) and parsed.data == "contact"
    if _may_name_another(clause, assembly) and not contact:
        again = parse(clause.text, "another")
        parsed = parsed if isinstance(again, Stopped | TooDeep) else again
    if isinstance(parsed, TooDeep):
        found.append(too_deep(clause))
        return None
    if isinstance(parsed, Stopped):
        told = explain(clause, parsed)
        if not clause.faulty:
            found.append(told.diagnostic)
        return build(told.parsed, told.clause) if told.parsed is not None else None
    return build(parsed, clause)


def _tabs_told(found: list[Diagnostic], place: Span) -> list[Diagnostic]:
    """Where blocks go by indentation, tabs among blanks are no matter of taste."""
    message = "how far this line is indented hangs on how wide a tab is, and so does the block it belongs to"
    cure = "indent with four blanks throughout"
    return [
        *(d for d in found if d.code != "RW011"),
        Diagnostic("RW167", Severity.FAULT, message, place, cure=cure),
    ]


def _start(clause: Clause) -> str:
    if in_letters(clause):
        return "letters"
    return "leads_to" if leads_to(clause) else "clause"


def _may_name_another(clause: Clause, assembly: Assembly) -> bool:
    """Whether a clause may be one more name after a device: ``lamp BUSY, READY``."""
    device = isinstance(assembly.last, tree.OneLine) and not isinstance(assembly.last, tree.Machine)
    return device and not assembly.first_of_line and clause.text.split()[0].casefold() not in reserved()


def _in_order(found: list[Diagnostic]) -> tuple[Diagnostic, ...]:
    """In the order of the text, the first hundred, and a last line if there are more."""
    ordered = sorted(found, key=lambda d: (d.span.start, d.span.end) if d.span else (-1, -1))
    if len(ordered) <= MOST_FAULTS:
        return tuple(ordered)
    last = Diagnostic(
        "RW019",
        Severity.FAULT,
        f"more than {MOST_FAULTS} faults; the rest is not told",
        cure="check that it is the right file, or put these right first",
    )
    return (*ordered[:MOST_FAULTS], last)
