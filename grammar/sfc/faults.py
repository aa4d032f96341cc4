"""The messages about sequential function charts: their codes, and what ``rungwright explain`` tells of each.

What is wrong inside an action or a condition is told with the codes of structured text.
"""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Entry, Severity
from grammar.source import Span

__all__ = ["ENTRIES", "fault", "notice"]


def fault(code: str, message: str, span: Span, *, expected: str = "", cure: str = "") -> Diagnostic:
    """A fault with one of the codes below."""
    return Diagnostic(code, Severity.FAULT, message, span, expected, cure)


def notice(code: str, message: str, span: Span, *, cure: str = "") -> Diagnostic:
    """Something worth knowing about a chart that is read all the same."""
    return Diagnostic(code, Severity.WARNING, message, span, "", cure)


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "RW531",
        Severity.FAULT,
        "a word where it can't stand in a function chart",
        "A sequential function chart is written as steps, transitions and actions, each ended by its END_ word "
        "(IEC 61131-3:2003 2.6, from memory). Reading goes on at the next of them.",
        "TRANSITION S1 TO S2 := LS1; END_TRANSITION",
        "write TRANSITION FROM S1 TO S2 := LS1; END_TRANSITION",
    ),
    Entry(
        "RW532",
        Severity.FAULT,
        "a step or an action that is not there",
        "Every step that a transition names is written as a STEP, and every action that a step names is an ACTION or "
        "a BOOL variable.",
        "TRANSITION FROM S1 TO S9 := LS1; END_TRANSITION",
        "correct the name, or write what it names",
    ),
    Entry(
        "RW533",
        Severity.FAULT,
        "one name for two things in a function chart",
        "Steps, transitions, actions and variables of one unit have names of their own; letter case does not count.",
        "STEP LS1: END_STEP where LS1 is an input",
        "rename one of them",
    ),
    Entry(
        "RW534",
        Severity.FAULT,
        "no initial step",
        "A function chart begins in its initial step, or it never begins.",
        "STEP S0: END_STEP and no INITIAL_STEP",
        "write INITIAL_STEP for the step it begins in",
    ),
    Entry(
        "RW535",
        Severity.FAULT,
        "a step that can't be reached",
        "No way along the transitions leads to the step from an initial one, whatever their conditions, which the "
        "standard counts as a fault (IEC 61131-3:2003 2.6.5, from memory).",
        "STEP S7: END_STEP and no transition TO S7",
        "write the transition that leads to it, or take the step out",
    ),
    Entry(
        "RW536",
        Severity.WARNING,
        "a step may become active while it is active",
        "Along the transitions, whatever their conditions, a step can be entered while it is active still: parallel "
        "work is left without being joined. The standard calls that unsafe (IEC 61131-3:2003 2.6.5, from memory). "
        "Here such a step simply stays active.",
        "FROM S1 TO (S2, S3), then FROM S2 TO S1",
        "join the branches: FROM (S2, S3) TO S1",
    ),
    Entry(
        "RW537",
        Severity.FAULT,
        "a faulty qualifier of an action",
        "The qualifiers are N R S L D P SD DS SL P1 P0. L, D, SD, DS and SL need a time, the others have none, and "
        "one action bears one time only in the whole chart (IEC 61131-3:2003 Table 45, from memory).",
        "Lamp(D);",
        "write Lamp(D, T#2s);",
    ),
    Entry(
        "RW538",
        Severity.FAULT,
        "a step's flag or time is used in the wrong way",
        "S1.X is TRUE while the step S1 is active. S1.T, the time for which it has been, is read only where it is "
        "compared with a constant time by >= or <, because nothing else has one moment at which it comes true. "
        "Neither can be written to.",
        "IF S1.T = T#4s THEN ...",
        "write S1.T >= T#4s",
    ),
)
