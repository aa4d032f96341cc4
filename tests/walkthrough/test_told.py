"""Walk-throughs as they should read: worked out by hand from the circuits on paper, and from what would go wrong."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from compiler.chart import Chart
from compiler.circuit import circuit_logic, machine_devices
from compiler.logic import Logic
from compiler.machine import Load, LoadKind, Machine
from compiler.ratings import Pump
from compiler.understand import understand
from compiler.walk.record import circuit_of
from grammar.rungs.read import read
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.command_line import main
from targets.target import Options
from targets.walkthrough import Level, Told, as_html, as_markdown, as_text, walk_through
from targets.walkthrough.coils import plural
from tests.whole.programs import EXAMPLES, WITHOUT_WAY_HOME, artefact, example

_PRESS = EXAMPLES[0].parent / "bung-press.seq"


def _told(stem: str, part: str, *, level: Level = Level.FULL, machine: Machine | None = None) -> Told:
    understood = example(stem)
    assert understood.chart is not None
    logic = read_back(artefact(stem, part, anti_repeat=False), understood.machine)
    return walk_through(machine or understood.machine, understood.chart, logic, level=level)


def _section(told: Told, number: int) -> list[str]:
    return [s.text for p in told.sections[number].passages for s in p.sentences]


def _moment(told: Told, heading: str) -> str:
    return next(" ".join(s.text for s in p.sentences) for p in told.sections[0].passages if p.heading == heading)


def test_the_on_delay_dwell_as_an_instructor_tells_it() -> None:
    # rung 1: (START and LS2) or CR1, STOP NC, TR1 NCTO, feeds CR1
    # rung 2: CR1, LS1, feeds TR1
    # rung 3: CR1, feeds SOL1
    told = _told("bung-press", "on-delay")
    assert _moment(told, "0.5 s") == (
        "The operator presses START. START completes rung 1 through LS2, STOP NC and TR1 NCTO: CR1 picks up. "
        "Its NO contacts in rungs 1 and 2 close, and the one in rung 1 now holds it in. "
        "CR1 completes rung 3: SOL1 comes on. SOL1 shifts the valve: RAM extends. "
        "This begins “extend RAM until at-end” (S1)."
    )
    assert _moment(told, "7.438 s") == (
        "TR1 has timed its 4 s. TR1 NCTO opens rung 1: CR1 drops out. Its NO contact in rung 1 opens. "
        "CR1 opens rung 2: TR1 drops out. Its NCTO contact in rung 1 closes. CR1 opens rung 3: SOL1 goes off. "
        "The spring returns the valve: RAM retracts. This begins “retract RAM until at-home” (S3)."
    )
    assert _moment(told, "9.641 s") == "RAM comes home and makes LS2. With that the cycle is over."
    assert _section(told, 0)[-1] == (
        "In the end everything is as it was at the start: no coil is in, every load is off and RAM is home."
    )


def test_what_is_not_known_follows_from_the_circuit() -> None:
    by_time, by_switch = _section(_told("bung-press", "one-shot"), 2), _section(_told("bung-press", "on-delay"), 2)
    never = "LS1 stands in no rung: it never checks that RAM is at its end."
    assert never in by_time
    assert never not in by_switch
    assert "If RAM jams on its way out, all goes on as if it had come through." in by_time
    assert "If RAM jams on its way out, everything waits, with SOL1 on." in by_switch


@pytest.mark.parametrize(("anti_repeat", "begins"), [(False, True), (True, False)])
def test_a_held_start_is_tried_out(anti_repeat: bool, begins: bool) -> None:
    understood = example("bung-press")
    assert understood.chart is not None
    logic = read_back(artefact("bung-press", "on-delay", anti_repeat=anti_repeat), understood.machine)
    known = _section(walk_through(understood.machine, understood.chart, logic), 2)
    assert any("it begins again" in line for line in known) is begins
    assert any("it makes one cycle only" in line for line in known) is not begins


def test_a_circuit_that_somebody_typed_is_told_like_any_other() -> None:
    told = walk_through(example("bung-press").machine, _chart(), _typed("rung 1: START, STOP NC, feeds SOL1\n"))
    assert "START completes rung 1 through STOP NC: SOL1 comes on." in _moment(told, "0.5 s")
    assert "START opens rung 1: SOL1 goes off." in _moment(told, "0.8 s")


def test_either_of_two_contacts_is_said_to_do() -> None:
    both = "rung 1: START, feeds CR1 and CR2\nrung 2: CR1 or CR2, feeds SOL1\n"
    told = walk_through(example("bung-press").machine, _chart(), _typed(both))
    assert "CR1 and CR2 complete rung 2, either of which would do: SOL1 comes on." in _moment(told, "0.5 s")


def test_a_circuit_that_never_settles_is_told_so() -> None:
    told = walk_through(example("bung-press").machine, _chart(), _typed("rung 1: START, CR1 NC, feeds CR1\n"))
    assert _section(told, 0)[-1] == "From here on CR1 never settles."


def test_what_lets_a_held_start_go_on_is_named() -> None:
    """AR1 is in while START is up and CR1 out, and START asks for it: held, START finds it out at the end."""
    understood = example("bung-press")
    assert understood.chart is not None
    logic = read_back(artefact("bung-press", "step-chain", anti_repeat=True), understood.machine)
    known = _section(walk_through(understood.machine, understood.chart, logic), 2)
    assert "With START held it makes one cycle only: AR1 picks up only when START is let go." in known
    known = _section(walk_through(understood.machine, understood.chart), 2)
    assert "With START held it makes one cycle only: it asks for a new press." in known


def test_a_cycle_that_begins_again_and_waits_has_begun_again() -> None:
    """The tray lifter's cycle begins "when START is held", and first waits for a tray: no load shows it."""
    begun = "With START held it begins again after the end of the cycle: it asks for no new press."
    understood = example("seed-tray-lifter")
    assert understood.chart is not None
    assert begun in _section(walk_through(understood.machine, understood.chart), 2)
    assert begun in _section(_told("seed-tray-lifter", "step-chain"), 2)


def test_a_jam_makes_a_pressure_switch_all_the_same() -> None:
    """And so the hold begins and ends; but the press, jammed for good, never comes home."""
    known = _section(_told("veneer-press", "step-chain"), 2)
    assert (
        "If PRESS jams on its way out, PS1 is made all the same, by the pressure, and it goes on as if it had come "
        "through, and then waits, with every load off."
    ) in known


def test_a_jam_that_no_load_shows_may_still_keep_the_cycle_from_its_end() -> None:
    """The chain waits for LS2; the dwell circuit does not."""
    shown = "If RAM jams on its way back, nothing shows it: no load was to change after that stroke"
    assert f"{shown}, but the cycle does not end." in _section(_told("bung-press", "step-chain"), 2)
    assert f"{shown}." in _section(_told("bung-press", "on-delay"), 2)


def test_what_nothing_sees_is_said_once() -> None:
    known = _section(_told("crate-stamp", "step-chain"), 2)
    assert "No switch sees STAMP at its end or home: nothing checks that STAMP has arrived." in known


def test_a_timer_that_times_at_rest_is_part_of_how_the_machine_stands() -> None:
    """TR5 has timed how long there was no flood: it is in before the cycle, though the run began with it at 0."""
    told = _told("weir-gate", "step-chain")
    assert _section(told, 0)[-1] == (
        "In the end everything is as it was at the start: TR5 is in, every load is off and GATE is at its end."
    )


def test_a_cycle_that_begins_anew_after_stop_is_told() -> None:
    """FLOOD is still made as the gate is closed again, and nobody has to press anything."""
    told = _told("weir-gate", "step-chain")
    first = told.sections[1].passages[0]
    assert first.heading == "In “turn on OPENING and retract GATE until not LS3 or after 9 s” (S1)"
    assert "With that a new cycle begins: nobody need press anything for it." in [s.text for s in first.sentences]


def test_a_phase_is_linked_to_the_moment_it_begins() -> None:
    told = _told("bung-press", "on-delay")
    moments = {p.heading: p.at_us for p in told.sections[0].passages}
    phases = told.sections[1].passages
    assert [p.heading for p in phases] == [
        "In “extend RAM until at-end” (S1)",
        "In “hold 4 s” (S2)",
        "In “retract RAM until at-home” (S3)",
    ]
    assert [p.see_us for p in phases] == [moments["0.5 s"], moments["3.438 s"], moments["7.438 s"]]


def test_a_program_without_rungs_says_what_can_be_told_of_it() -> None:
    understood = example("bung-press")
    assert understood.chart is not None
    made, _ = emit_all(understood, Options())
    for one in (a for a in made if a.file.endswith((".st", ".sfc"))):
        told = walk_through(understood.machine, understood.chart, read_back(one, understood.machine))
        assert "has no rungs to tell of" in told.sections[0].opening
        assert "from the sequence" in told.sections[0].opening
    assert walk_through(understood.machine, understood.chart).sections[0].opening == ""


def test_sensors_let_go_as_the_motor_runs_away_from_them() -> None:
    """WINCH leaves NEAR as it runs forward, or the way back, which waits for NEAR, would be over at once."""
    told = _told("log-winch", "step-chain")
    said = _section(told, 0)
    assert any("NEAR lets go" in text for text in said)
    assert "WINCH runs in reverse." in said
    assert any("FAR lets go" in text for text in said)
    assert "GUARD is made." in said[:2]
    assert told.sections[1].title == "If AUTO is on instead"
    assert "WINCH runs forward." in _section(told, 1)  # FAR has let go, so that it has somewhere to go
    after_stop = " ".join(s.text for s in told.sections[2].passages[0].sentences)
    assert "NEAR is made" in after_stop
    assert "M2 goes off and WINCH stops." in after_stop


@pytest.mark.parametrize(
    ("pump", "words"),
    [
        (
            Pump(compensated=True, pressure_bar=70.0),
            "the pump, pressure-compensated, de-strokes to standby at 70 bar.",
        ),
        (Pump(), "the flow of the pump goes over the relief valve."),
        (None, "a pressure-compensated pump de-strokes to standby, a fixed one feeds its relief valve."),
    ],
)
def test_the_pump_at_the_end_of_the_stroke(pump: Pump | None, words: str) -> None:
    machine = example("bung-press").machine.model_copy(update={"pump": pump})
    assert f"Nothing takes oil now: {words}" in _moment(_told("bung-press", "on-delay", machine=machine), "3.438 s")


def test_a_pump_that_a_motor_of_the_program_may_drive_is_not_said_to_run() -> None:
    machine = example("bung-press").machine
    motor = Load(name="M", kind=LoadKind.MOTOR)
    driven = machine.model_copy(update={"pump": Pump(), "loads": (*machine.loads, motor)})
    said = _moment(_told("bung-press", "on-delay", machine=driven), "3.438 s")
    assert "the flow of the pump goes over the relief valve, as long as it is driven." in said


def test_stop_on_a_memory_valve_leaves_the_stroke_to_end() -> None:
    stops = _section(_told("clamp-and-drill", "step-chain"), 1)
    assert "CLAMP goes on: its valve stays where it was put." in stops
    assert "In the end not all is as it was at the start: CLAMP is at its end." in stops


def test_what_a_new_start_wants_after_a_stop_is_tried_out() -> None:
    """CLAMP stands out, so LS2 is open: the circuit asks for it and begins nothing. The sequence itself asks for no
    place, and goes on from S1 at once: DRILL's solenoid comes on."""
    stops = _section(_told("tag-punch" + WITHOUT_WAY_HOME, "step-chain"), 1)
    assert "Pressed then, START does nothing: rung 1 is still open at LS2." in stops
    assert "In the end not all is as it was at the start: FEED and PUNCH are at their ends." in stops
    assert "Pressed then, START does nothing: rung 1 is still open at LS2 and LS4." in stops
    understood = example("clamp-and-drill")
    assert understood.chart is not None
    said = _section(walk_through(understood.machine, understood.chart), 1)
    assert "Pressed then, START begins the cycle from there: SOL2A and SPINDLE come on." in said
    punch = example("tag-punch" + WITHOUT_WAY_HOME)
    assert punch.chart is not None
    asked = _section(walk_through(punch.machine, punch.chart), 1)
    assert "Pressed then, START does nothing unless LS2 and LS4 are made." in asked


def test_rods_that_stand_alike_as_the_run_begins_are_told_together() -> None:
    assert _moment(_told("tag-punch" + WITHOUT_WAY_HOME, "step-chain"), "0 s") == (
        "The control supply is on. FEED, PUNCH and STAMP are home, and LS2, LS4 and LS6 are made."
    )


def test_work_side_by_side_is_told_as_begun_together() -> None:
    said = _moment(_told("bale-compactor", "step-chain"), "0.5 s")
    assert "This begins “extend GATE until at-end” (S1) and “extend LIFT until at-end” (S2)." in said


def test_stations_and_joins_are_told_transition_by_transition() -> None:
    """ESCAPE is home last, so both branches are done and PUSHER sets out; later each station waits for the other."""
    large = EXAMPLES[0].parent / "large" / "tray-transfer.seq"
    understood = understand(Source(large.name, large.read_text(encoding="utf-8")))
    assert understood.chart is not None
    told = walk_through(understood.machine, understood.chart)
    assert (
        "“retract ESCAPE until at-home” (LOADER_S3) is over, and its branch waits for the others (LOADER_W1). "
        "With its branches over LOADER goes on to “extend PUSHER until at-end” (LOADER_S5). Y3 comes on."
    ) in _moment(told, "1.8 s")
    assert _moment(told, "0 s").endswith("LOADER and PRESSER rest.")
    shaken = "“extend CLAMP until at-end” (PRESSER_S1), as TRAY_READY is on and LS10, LS12, LS14 and LS16 are made."
    assert shaken in _moment(told, "3.3 s")
    assert "retract PUSHER until at-home” (LOADER_S7), as TRAY_TAKEN is on." in _moment(told, "3.9 s")
    sentences = [s.text for section in told.sections for p in section.passages for s in p.sentences]
    assert not [text for text in sentences if "at once" in text or "is active" in text]


def test_a_valve_that_centres_while_its_rod_stands_is_told() -> None:
    told = _told("tile-press", "step-chain")
    said = _section(told, 0)
    assert "The springs bring PRESS's valve to its closed centre." in said
    assert "The springs bring EJECTOR's valve to its tandem centre." in said


def test_relays_that_drop_out_one_after_the_other_are_told_in_one_sentence() -> None:
    """At the end of a chain each relay drops the next: a finger along the chain, each with the rung it stands in, and
    not two sentences a relay. What the chain does besides is told of that relay."""
    understood = example("tag-punch")
    logic = read_back(artefact("tag-punch", "step-chain", anti_repeat=False), understood.machine)
    circuit = circuit_of(logic)
    assert circuit is not None
    fed = {feed.name.text: rung.number for rung in circuit.circuit.rungs for feed in rung.feeds}
    said = _moment(_told("tag-punch", "step-chain"), "3.6 s")
    (chain,) = re.findall(r"One after the other (.+?) drop out as well, each let go by one before it; all", said)
    named = re.findall(r"(\w+) \(rung (\d+)\)", chain)
    assert len(named) > 5
    assert all(fed[name] == int(number) for name, number in named)
    assert not re.search(r"CR\d+ opens rung \d+: CR\d+\w? drops out", said.split(chain)[1])


def test_relays_that_drop_out_at_one_moment_are_not_told_one_after_the_other() -> None:
    """Coils side by side in one rung: the master contact before them lets go of all three at once."""
    said = _section(_told("hide-embossing", "one-hot"), 1)
    assert "MCR1 opens rung 4: CR3, CR3A and CR3B drop out." in said
    assert "One after the other" not in said


def test_contacts_in_very_many_rungs_are_counted_and_not_listed() -> None:
    rungs = "rung 1: START or CR1, feeds CR1\n" + "".join(f"rung {k}: CR1, LS1, feeds L{k}\n" for k in range(2, 14))
    loads = tuple(Load(name=f"L{k}", kind=LoadKind.LAMP) for k in range(2, 14))
    machine = example("bung-press").machine
    machine = machine.model_copy(update={"loads": (*machine.loads, *loads)})
    reading = read(Source("typed.rungs", rungs), machine_devices(machine))
    told = walk_through(machine, _chart(), circuit_logic(reading.tree, machine))
    said = "CR1 picks up. Its NO contacts in 13 rungs close, and the one in rung 1 now holds it in."
    assert said in _moment(told, "0.5 s")


def test_what_several_do_is_told_of_several() -> None:
    told = "drops out before its time is over"
    assert plural(told, ["TR1"]) == told
    assert plural(told, ["TR1", "TR4"]) == "drop out before their times are over"
    assert plural("picks up and holds itself in", ["CR2", "CR4"]) == "pick up and hold themselves in"


def test_short_is_one_sentence_a_moment() -> None:
    assert _section(_told("bung-press", "on-delay", level=Level.SHORT), 0)[:4] == [
        "The operator presses START: CR1 picks up and holds itself in, SOL1 comes on and RAM extends.",
        "RAM comes to its end and makes LS1: TR1 begins to time 4 s.",
        "TR1 has timed its 4 s: CR1 and TR1 drop out, SOL1 goes off and RAM retracts.",
        "RAM comes home and makes LS2.",
    ]


def test_the_chart_is_told_by_steps_and_conditions() -> None:
    understood = example("bung-press")
    assert understood.chart is not None
    told = walk_through(understood.machine, understood.chart)
    assert "The sequence goes on to “extend RAM until at-end” (S1), as LS2 is made." in _moment(told, "0.5 s")
    assert "4 s have passed: the sequence goes on to “retract RAM until at-home” (S3)." in _moment(told, "7.438 s")


def test_what_markup_means_is_only_text() -> None:
    machine = example("bung-press").machine.model_copy(update={"title": '<script>alert("1")</script> *a* [b](c) & d'})
    told = _told("bung-press", "on-delay", machine=machine)
    assert "<script" not in as_html(told)
    assert "<script" not in as_markdown(told)
    assert r"\*a\* \[b\](c) &amp; d" in as_markdown(told)


def test_the_command_tells_and_writes(tmp_path: Path) -> None:
    def run(*words: str) -> tuple[int, str]:
        done = CliRunner().invoke(main, ["tell", str(_PRESS), *words])
        return done.exit_code, done.output

    code, said = run("--arrangement", "on-delay", "--level", "short")
    assert code == 0
    assert said == as_text(_told("bung-press", "on-delay", level=Level.SHORT))
    for name in ("x.md", "x.html"):
        out = tmp_path / name
        assert run("-o", str(out)) == run("-o", str(out)) == (0, f"{out} written\n")
    (tmp_path / "mine.md").write_text("mine")
    for words, why in (
        (("-o", str(tmp_path / "x.txt")), "should end in .md or .html"),
        (("-o", str(tmp_path / "mine.md")), "is no walk-through"),
        (("--arrangement", "no-such"), "there is neither a file nor an arrangement no-such"),
    ):
        code, said = run(*words)
        assert code == 2
        assert why in said
    assert (tmp_path / "mine.md").read_text() == "mine"


def _chart() -> Chart:
    chart = example("bung-press").chart
    assert chart is not None
    return chart


def _typed(text: str) -> Logic:
    machine = example("bung-press").machine
    reading = read(Source("typed", text), machine_devices(machine))
    assert reading.sound, reading.diagnostics
    return circuit_logic(reading.tree, machine)


def test_every_short_sentence_of_the_cycle_begins_with_a_capital_or_a_name() -> None:
    said = _section(_told("veneer-press", "step-chain", level=Level.SHORT), 0)
    assert any(text.startswith("The pressure on PRESS has built up") for text in said)
    assert not any(text.startswith("the ") for text in said)


@pytest.mark.parametrize(("stem", "waits"), [("weir-gate", "FLOOD"), ("seed-tray-lifter", "START is held")])
def test_a_cycle_that_needs_no_press_is_never_told_to_stay_away(stem: str, waits: str) -> None:
    """Whoever reaches into the machine while the supply is off must know that it may begin as it comes back."""
    for told in (_told(stem, "step-chain"), _told(stem, "step-counter" if stem == "weir-gate" else "one-hot")):
        said = [s.text for section in told.sections for p in section.passages for s in p.sentences]
        (begins,) = (text for text in said if text.startswith("With the supply back a cycle begins by itself"))
        assert waits in begins
        assert not any("nothing comes on by itself" in text for text in said)
