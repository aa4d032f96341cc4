"""The waveform file and the table, read by readers that are not ours, hold the run and nothing else."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from vcdvcd import VCDVCD

from compiler.machine import Machine
from compiler.simulation.run import Change, Outcome, Role, Run, Scenario, Side
from targets.motion import as_csv, as_vcd
from tests.motion.runs import EXAMPLES, any_runs, example


def history(run: Run) -> list[list[tuple[int, str]]]:
    """What each signal is from each moment on, by what was recorded: sorted, for names may be changed."""
    found: dict[tuple[str, str, str], list[tuple[int, str]]] = {}
    for c in (c for c in run.changes if " = " not in c.signal):
        found.setdefault((c.side, c.role, c.signal), [(0, "0")]).append((c.at_us, str(int(c.on))))
    kept = []
    for entries in found.values():
        last: list[tuple[int, str]] = []
        for at_us, value in entries:
            last = [e for e in last if e[0] != at_us]
            if not last or last[-1][1] != value:
                last.append((at_us, value))
        kept.append(last)
    return sorted(kept)


def dumped(text: str) -> VCDVCD:
    return VCDVCD(vcd_string=text)


def wires(read: VCDVCD) -> list[list[tuple[int, str]]]:
    single = [signal for signal in read.data.values() if signal.size == "1"]
    return sorted([(at, value) for at, value in signal.tv] for signal in single)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_waveform_file_of_an_example_holds_its_run(path: Path) -> None:
    run = example(path).run
    read = dumped(as_vcd(run))
    assert wires(read) == history(run)
    names = {reference.split(".")[-1] for reference in read.references_to_ids}
    assert {c.signal for c in run.changes if c.signal.isidentifier()} <= names
    for name in dict.fromkeys(m.actuator for m in run.moves):
        (rod,) = (read[reference] for reference in read.references_to_ids if f".rods.{name}" in reference)
        moves = {m.at_us: m.position_um for m in run.moves if m.actuator == name}
        assert all(rod[at_us] == f"{um:b}" for at_us, um in moves.items())


def test_a_counter_is_a_number_in_a_waveform_file_and_in_a_table() -> None:
    """Three pecks, then three on the other side: each counts as it begins, and the next step clears it."""
    made = example(next(p for p in EXAMPLES if p.stem == "bead-drill"))
    read = dumped(as_vcd(made.run))
    (reference,) = (r for r in read.references_to_ids if r.split(".")[-1].startswith("C1"))
    assert [int(value, 2) for _, value in read[reference].tv] == [0, 1, 2, 3, 0]
    rows = list(csv.DictReader(io.StringIO(as_csv(made.run, made.machine), newline="")))
    values = [int(row["C2"]) for row in rows]
    assert [b for a, b in zip([-1, *values], values, strict=False) if a != b] == [0, 1, 2, 3, 0]


@settings(deadline=None, max_examples=40)
@given(run=any_runs())
def test_a_waveform_file_holds_any_run_under_any_names(run: Run) -> None:
    assert wires(dumped(as_vcd(run))) == history(run)


@settings(deadline=None, max_examples=40)
@given(run=any_runs())
def test_a_waveform_file_keeps_the_order_and_the_letters_of_the_standard(run: Run) -> None:
    """IEEE 1364 (from memory): declarations, then changes at rising times; codes of printable characters; a simple
    identifier is letters, digits and underscores and begins with no digit."""
    text = as_vcd(run)
    assert text.isascii()
    head, body = text.split("$enddefinitions $end\n")
    for words in ("$timescale 1 us $end", "$version", "$comment", "$scope module ", "$var "):
        assert words in head
    declared = re.findall(r"^\$var (\w+) (\d+) (\S+) (\S+) \$end$", head, re.MULTILINE)
    assert len(declared) == head.count("$var ") == len({code for _, _, code, _ in declared})
    for kind, size, code, name in declared:
        assert (kind, size) in {("wire", "1"), ("integer", "32")}
        assert re.fullmatch(r"[!-~]+", code)
        assert re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", name)
    assert head.count("$scope ") == head.count("$upscope ")
    times = [int(t) for t in re.findall(r"^#(\d+)$", body, re.MULTILINE)]
    assert times == sorted(set(times))
    assert times[-1] == run.ended_us
    assert body.splitlines()[1] == "$dumpvars"


def plain_run(*names: str, driver: str = "the sequence") -> Run:
    changes = tuple(
        Change(at_us=1000 * k, side=Side.WORLD, role=Role.INPUT, signal=name, on=True)
        for k, name in enumerate(names, 1)
    )
    ended = 1000 * len(names) + 1000
    return Run(
        machine="m",
        driver=driver,
        scenario=Scenario(name="one", duration_us=ended),
        changes=changes,
        ended_us=ended,
        outcome=Outcome.COMPLETED,
    )


def test_unsafe_names_in_a_waveform_file_become_simple_ones_and_are_listed() -> None:
    text = as_vcd(plain_run("LS 1", "LS-1", "1A", "bus[3]", "Ä", "$end", "", driver="machine"))
    read = dumped(text)
    names = {ref.split(".")[-1] for ref in read.references_to_ids}
    assert names == {"LS_1", "LS_1_2", "_1A", "bus_3_", "_", "_end", "__2"}
    assert {ref.split(".")[0] for ref in read.references_to_ids} == {"machine"}
    assert "machine.inputs.LS_1_2 stands for LS-1" in text
    assert "machine.inputs._end stands for Send" in text  # a dollar sign could end the comment


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_table_of_an_example_holds_its_run(path: Path) -> None:
    made = example(path)
    text = as_csv(made.run, made.machine)
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in rows}) == 1
    heads = rows[0]
    on: dict[str, str] = {}
    changes = list(made.run.changes)
    for row in rows[1:]:
        at_us = round(float(row[0]) * 1_000_000)
        while changes and changes[0].at_us <= at_us:
            change = changes.pop(0)
            name, _, value = change.signal.partition(" = ")
            if change.on or not value:
                on[name] = value or str(int(change.on))
        told = dict(zip(heads, row, strict=True))
        assert all(told[name] == value for name, value in on.items())
        for move in made.run.moves:
            if move.at_us == at_us:
                assert float(told[f"{move.actuator} in mm"]) == pytest.approx(move.position_um / 1000, abs=0.0006)
    assert not changes
    assert text.count("\n") == text.count("\r\n") == len(rows)


def test_no_cell_of_a_table_is_taken_for_a_formula() -> None:
    names = ('=HYPERLINK("x")', "+24V", "-K1", "@a", "\tb", 'say "no"', "a,b", "a\r\nb")
    rows = list(csv.reader(io.StringIO(as_csv(plain_run(*names), Machine()), newline="")))
    assert [head.removeprefix("'") for head in rows[0][1:]] == list(names)
    assert not [cell for row in rows for cell in row if cell[:1] in "=+-@\t" and cell]


def test_rods_stand_between_their_moves_in_a_table() -> None:
    """Half-way in time is half-way in distance: strokes are even."""
    made = example(next(p for p in EXAMPLES if p.stem == "crate-stamp"))
    out, stop = made.run.moves[:2]
    rows = list(csv.DictReader(io.StringIO(as_csv(made.run, made.machine), newline="")))
    inside = [r for r in rows if out.at_us < round(float(r["time in s"]) * 1e6) < stop.at_us]
    assert inside
    for row in inside:
        share = (float(row["time in s"]) * 1e6 - out.at_us) / (stop.at_us - out.at_us)
        assert float(row["STAMP in mm"]) == pytest.approx(share * stop.position_um / 1000, abs=0.01)
