"""Sheet sets that several tests look at, each made once."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from compiler.understand import understand
from grammar.source import Source
from targets.build import Built, build_all
from targets.circuit_papers import circuit_papers
from targets.papers import with_papers
from targets.sheet_set.view import SheetSet, sheet_set
from targets.target import Options

__all__ = ["EXAMPLES", "NASTY", "ONE_LINE", "OPTIONS", "page_of", "papers_of", "sheets_of"]

_LONG = "averyveryverylongwordthatgoesonandonwithoutanyplacetobreakitatall" + "x" * 235
# Two arrangements are enough to see whether one's names get in the other's way.
OPTIONS = Options(arrangements=("on-delay", "one-hot"))
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ONE_LINE = (EXAMPLES / "one-line.seq").read_text(encoding="utf-8")
NASTY = f"""\
machine "<script>alert(1)</script> & 'quotes' {{{{ braces }}}} שלום 😀 #let $x$ = @y _under_ *star* {_LONG}"

hydraulic cylinder RAM
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
pushbutton STOP, normally closed
lamp A_VERY_LONG_NAME_THAT_GOES_ON_AND_ON_XYZ
lamp נורה
lamp ЛАМПА_ГОТОВНОСТИ_ПРЕССА_ДЛЯ_БРИКЕТОВ

# <img src=x onerror=alert(2)> ]]> --> עברית " ' & \\
cycle
    when START is pressed
    turn on A_VERY_LONG_NAME_THAT_GOES_ON_AND_ON_XYZ
    turn on נורה
    turn on ЛАМПА_ГОТОВНОСТИ_ПРЕССА_ДЛЯ_БРИКЕТОВ
    extend RAM until at-end, within 8 s or fault "<b>& </pre></style> 'late' =1+1 *) --> ]]> שלום {_LONG}"
    retract RAM until at-home
    turn off A_VERY_LONG_NAME_THAT_GOES_ON_AND_ON_XYZ
    turn off נורה
    turn off ЛАМПА_ГОТОВНОСТИ_ПРЕССА_ДЛЯ_БРИКЕТОВ
"""


@cache
def sheets_of(text: str) -> SheetSet:
    """What the sheet set of a program says, its runs only simulated."""
    understood = understand(Source("x.seq", text))
    assert understood.chart is not None, understood.diagnostics
    built = build_all(understood, OPTIONS, quick=True)
    assert built is not None
    return sheet_set(understood, built, tuple(circuit_papers(built, understood.machine, OPTIONS)), OPTIONS)


@cache
def papers_of(text: str) -> Built:
    """A build of a program with its papers."""
    understood = understand(Source("x.seq", text))
    built = build_all(understood, OPTIONS, quick=True)
    assert built is not None
    return with_papers(understood, built, OPTIONS)


def page_of(text: str) -> str:
    """The page of a program."""
    return next(one.artefact.text for one in papers_of(text).printed if one.artefact.file == "index.html")
