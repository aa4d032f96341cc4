"""The report of a build, and runs on the screen."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from rich.text import Text

from compiler.checking.verdict import Standing, Verdict
from compiler.machine import Machine
from compiler.proof.examine import Examined
from compiler.proof.verdict import Proof
from compiler.simulation.run import Run, Scenario
from compiler.simulation.timeline import timeline
from compiler.understand import Understood
from grammar.diagnostic import Diagnostic, Severity, to_json
from targets.build import Built, Printed, Rewired
from targets.counted import counted
from targets.files import Written
from targets.proof_report import STYLES as PROOF_STYLES
from targets.proof_report import (
    claim,
    examined_json,
    examined_lines,
    outside_line,
    proof_json,
    requirement_line,
    run_json,
)
from targets.screen import STYLES, console, heading, paragraph, show_diagnostics, show_told, write_text
from targets.target import CAUTION, Artefact, Refusal

__all__ = ["build_json", "progress", "show_build", "show_runs", "show_timeline"]

_STYLES = {Standing.SAME: "green", Standing.SAME_ONLY_IF: "yellow", Standing.DIFFERS: "bold red"}
_MOST_ALIKE = 4
_PASSED = "none comes to it, or it is left in the same instant, as what leads on from it holds already"
_ALL_PASSED = "none comes to them, or they are left in the same instant, as what leads on from them holds already"
_CLAIM = (
    "These verdicts come from simulated runs, not from a proof: every printed text was read back and run beside the "
    "sequence, outputs compared at all times."
)


@contextmanager
def progress(*, quiet: bool) -> Iterator[Callable[[str], None]]:
    """A line that tells what is being done, on a terminal and only there."""
    if quiet or not sys.stdout.isatty():
        yield lambda _: None
        return
    with console().status("reading") as status:
        yield lambda doing: status.update(doing)


def show_build(
    understood: Understood,
    built: Built | None,
    *,
    written: Written,
    show: Sequence[str],
    differences: bool = False,
) -> None:
    """Everything a practitioner needs from a build, in the order it is needed."""
    if built is None:
        show_diagnostics(understood.diagnostics, understood.source)
        console().print()
        count = len(understood.said(Severity.FAULT))
        console().print(f"{understood.source.name}: nothing was built ({count} fault{'s' if count != 1 else ''})")
        return
    show_told(understood)
    _show_verdicts(understood, built)
    _show_rewired(built.rewired)
    _show_examined(understood, built.examined)
    _show_requirements(understood, built)
    _show_refusals(built.refused)
    _show_findings(understood)
    if differences:
        _show_differences(understood, built)
    _show_texts(built, show)
    _show_files(built, written)
    console().print()
    paragraph(CAUTION, 0)


def _show_verdicts(understood: Understood, built: Built) -> None:
    heading("Printed, read back and " + ("checked" if built.examined is None else "proved"))
    for printed in built.printed:
        if not printed.artefact.implementation:
            continue
        artefact = printed.artefact
        parts = ", ".join(counted(count, what) for what, count in artefact.parts if count)
        console().print(Text(f"  {artefact.name}", style="bold"), Text(f"({parts})" if parts else ""), soft_wrap=True)
        if printed.unreadable is not None:
            paragraph("cannot be read back from its own text; do not use it", 4, "bold red")
            show_diagnostics(printed.unreadable.diagnostics, printed.unreadable.source)
        if printed.verdict is not None:
            _show_verdict(printed.verdict)
        if printed.proof is not None:
            _show_proof(printed.proof, understood.machine)
    console().print()
    if built.idle:
        paragraph("No cycle ever begins: all that was compared is a machine that stands still.", 2, "bold red")
    elif built.unreached:
        these = ", ".join(f'{s.name} "{s.words.text}"' if s.words.text else s.name for s in built.unreached)
        one = len(built.unreached) == 1
        step, why, is_ = ("step", _PASSED, "it is") if one else ("steps", _ALL_PASSED, "they are")
        working = "" if built.examined is None else " while every switch works"
        paragraph(f"No run stays in {step} {these}{working}: {why}. So {is_} not checked.", 2,
                  "yellow")  # fmt: skip
    proofs = [printed.proof for printed in built.printed if printed.proof is not None]
    paragraph(_CLAIM if built.examined is None else claim(proofs), 2, "dim")


def _show_rewired(rewired: Sequence[Rewired]) -> None:
    """What the wiring lists say when they are read back."""
    if not rewired:
        return
    heading("Wiring lists, read back from the lists alone")
    alike = [one.name for one in rewired if not one.unlike]
    if alike:
        paragraph(f"{', '.join(alike)}: every coil stands behind the same contacts as in its rungs", 2, "green")
    for one in rewired:
        for fault in one.unlike:
            paragraph(f"{one.name}: do not wire from this list: {fault}", 2, "bold red")


def _show_proof(proof: Proof, machine: Machine) -> None:
    paragraph(proof.headline, 4, PROOF_STYLES[proof.standing])
    for outside in proof.outside:
        paragraph(outside_line(outside, machine), 6)


def _show_examined(understood: Understood, examined: Examined | None) -> None:
    if examined is None or understood.chart is None:
        return
    heading("Proved of the sequence itself")
    for line, good in examined_lines(examined, understood.machine, understood.chart):
        paragraph(line if good else f"Mind: {line}", 2, "green" if good else "bold red")


def _show_verdict(verdict: Verdict) -> None:
    first, *others = verdict.lines
    paragraph(first, 4, _STYLES[verdict.standing])
    for line in others:
        paragraph(line, 6)


def _show_requirements(understood: Understood, built: Built) -> None:
    """Whether every requirement is kept, in every run or in those that were made: told of the sequence alone."""
    assert understood.chart is not None
    if understood.chart.requirements:
        heading("Required")
    in_runs = {b.requirement: b.line for b in built.broken}
    proved = {kept.name: kept for kept in built.kept}
    for requirement in understood.chart.requirements:
        words = requirement.words.text or requirement.name
        if requirement.name in proved:
            told, good = requirement_line(proved[requirement.name], understood.machine)
        else:
            told, good = in_runs.get(requirement.name, "kept in every run made"), requirement.name not in in_runs
        paragraph(f"{words}: {told}", 2, "green" if good else "bold red")


def _show_differences(understood: Understood, built: Built) -> None:
    """The shortest run of every difference, both implementations in one chart, and of every broken requirement."""
    for kept in built.kept:
        if kept.run is not None:
            heading(f"{kept.name}: {requirement_line(kept, understood.machine)[0]}")
            console().print()
            show_timeline(understood, kept.run)
    for printed in built.printed:
        for found in printed.verdict.found if printed.verdict is not None else ():
            heading(f"{printed.artefact.name}: {found.line}")
            console().print()
            show_timeline(understood, found.run)
        for outside in printed.proof.outside if printed.proof is not None else ():
            if outside.run is not None:
                heading(f"{printed.artefact.name}: {outside_line(outside, understood.machine)}")
                console().print()
                show_timeline(understood, outside.run)


def _show_refusals(refused: Sequence[Refusal]) -> None:
    """What was not built and why, one reason a paragraph."""
    if refused:
        heading("Not built")
    names: dict[str, list[str]] = {}
    for refusal in refused:
        names.setdefault(refusal.reason, []).append(refusal.name)
    for reason, alike in names.items():
        paragraph(f"{', '.join(alike)}: {reason}", 2)


def _show_findings(understood: Understood) -> None:
    for severity, title in ((Severity.WARNING, "Warnings"), (Severity.ADVICE, "Advice")):
        said = understood.said(severity)
        if said:
            heading(title)
        for code in dict.fromkeys(diagnostic.code for diagnostic in said):
            _show_alike(understood, [d for d in said if d.code == code])
    if understood.diagnostics:
        console().print()
        paragraph(f"rungwright explain {understood.diagnostics[0].code} tells more, and so for every code.", 2, "dim")


def _show_alike(understood: Understood, alike: list[Diagnostic]) -> None:
    """Messages of one code; of many, the first few and a count."""
    shown = alike if len(alike) <= _MOST_ALIKE else alike[: _MOST_ALIKE - 1]
    for diagnostic in shown:
        where = _where(understood, diagnostic)
        paragraph(f"{diagnostic.code} {where}{diagnostic.message}", 2, STYLES[diagnostic.severity])
        if diagnostic.severity is Severity.WARNING and diagnostic.cure:
            paragraph(diagnostic.cure, 8)
    if len(shown) < len(alike):
        paragraph(f"and {len(alike) - len(shown)} more of {alike[0].code}; rungwright check shows them all", 8)


def _where(understood: Understood, diagnostic: Diagnostic) -> str:
    if diagnostic.span is None:
        return ""
    return f"line {understood.source.place(diagnostic.span.start).line}: "


def _show_texts(built: Built, show: Sequence[str]) -> None:
    wanted = {word: [p.artefact for p in built.printed if _is_meant(word, p.artefact)] for word in show}
    for word in (word for word, found in wanted.items() if not found):
        heading(f"Nothing that was printed has {word} in its name")
    for printed in built.printed:
        artefact = printed.artefact
        if any(artefact in found for found in wanted.values()):
            heading(artefact.file)
            console().print()
            write_text(artefact.text)


def _is_meant(word: str, artefact: Artefact) -> bool:
    return word == "all" or word in artefact.name or word in artefact.file


def _show_files(built: Built, written: Written) -> None:
    if written.paths:
        heading(f"Written to {written.paths[0].parent}")
        for printed in built.printed:
            console().print(f"  {printed.artefact.file}", soft_wrap=True)
        _show_names("Taken away, of an earlier build and not of this one", written.gone)
        _show_names("Left there though of an earlier build, for it was changed by hand", written.left)
        return
    heading("Nothing was written")
    more = "Add -o DIR to write all this with its drawings and lists, or --show rungs, --show ladder, --show .st to"
    paragraph(f"{more} read some here.", 2)


def _show_names(why: str, names: Sequence[str]) -> None:
    if names:
        heading(why)
        for name in names:
            console().print(f"  {name}", soft_wrap=True)


# --- JSON -----------------------------------------------------------------------------------------------------


def build_json(understood: Understood, built: Built | None, written: Written) -> str:
    """The report as JSON: what was said, each artefact with its verdict, refusals, files."""
    report = {
        "caution": CAUTION,
        "built": built is not None,
        "messages": [to_json(diagnostic, understood.source) for diagnostic in understood.diagnostics],
        "artefacts": []
        if built is None
        else [_artefact_json(printed, understood.machine) for printed in built.printed],
        "proved": None if built is None or built.examined is None else examined_json(built.examined),
        "refused": []
        if built is None
        else [{"target": r.target, "name": r.name, "reason": r.reason} for r in built.refused],
        "wiring_lists": []
        if built is None
        else [{"name": r.name, "same": not r.unlike, "unlike": list(r.unlike)} for r in built.rewired],
        "unreached": [] if built is None else [step.name for step in built.unreached],
        "broken": []
        if built is None
        else [
            *({"requirement": b.requirement, "at_us": b.at_us, "run": b.scenario} for b in built.broken),
            *({"requirement": k.name, "at_us": k.at_us, "run": run_json(k.run)} for k in built.kept if k.broken),
        ],
        "written": [str(path) for path in written.paths],
        "taken_away": list(written.gone),
        "left": list(written.left),
    }
    return json.dumps(report, indent=2, ensure_ascii=False)


def _artefact_json(printed: Printed, machine: Machine) -> dict[str, object]:
    artefact, verdict = printed.artefact, printed.verdict
    out: dict[str, object] = {
        "target": artefact.target,
        "name": artefact.name,
        "file": artefact.file,
        "implementation": artefact.implementation,
        "parts": dict(artefact.parts),
        "words": {str(line): words for line, words in artefact.lines.items()},
    }
    if printed.unreadable is not None:
        out["verdict"] = {"standing": "not readable"}
    if printed.proof is not None:
        out["verdict"] = proof_json(printed.proof, machine)
    if verdict is not None:
        out["verdict"] = {
            "by": "simulation",
            "standing": str(verdict.standing),
            "runs": verdict.runs,
            "needs": sorted(str(assumption) for assumption in verdict.needs),
            "lines": list(verdict.lines),
            "differences": [
                {
                    "at_us": found.at_us,
                    "line": found.line,
                    "announced": bool(found.excused_by),
                    "run": found.run.model_dump(mode="json"),
                }
                for found in verdict.found
            ],
        }
    return out


# --- runs -----------------------------------------------------------------------------------------------------


def show_runs(scenarios: Sequence[Scenario]) -> None:
    """The names of runs, each once, with how long the first of that name lasts."""
    seen: dict[str, Scenario] = {}
    for scenario in scenarios:
        seen.setdefault(scenario.name, scenario)
    for name, scenario in seen.items():
        console().print(f"{scenario.duration_us / 1e6:>9.1f} s  {name}", soft_wrap=True)


def show_timeline(understood: Understood, run: Run) -> None:
    """A run told and drawn."""
    write_text(timeline(run, understood.machine, chart=understood.chart, width=min(console().width, 80)))
