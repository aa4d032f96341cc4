"""Words become machine and chart: what each form of the language means, read off the chart."""

from __future__ import annotations

import pytest

from compiler.chart import Chart
from compiler.condition import And, Elapsed, Not, Or, Rise, Signal, Sustained
from compiler.document import Document, NotADocument, read_document
from compiler.machine import Contact, End, InputKind, Machine, TravelBasis, ValveKind
from compiler.tell import tell
from compiler.understand import understand
from grammar.diagnostic import Severity
from grammar.reading import ReadBack
from grammar.source import Source
from targets.chart import TARGET

PRESS = """
hydraulic cylinder RAM
    stroke 200 mm
    extends in 3 s to 4 s, retracts in 2 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
    limit switch LS3 at 120 mm, reset travel 2 mm, normally closed
    pressure switch PS1 at 1000 psi
pushbutton START, normally open
pushbutton STOP, normally closed
pushbutton ACK
selector AUTO
sensor PART
lamp BUSY
horn ALARM
"""

PAIR = """
pneumatic cylinder A
    stroke 100 mm
    double solenoid valve YA1 extends, YA0 retracts
    limit switch a1 at end, a0 at home
pneumatic cylinder B
    stroke 100 mm
    double solenoid valve YB1 extends, YB0 retracts
    limit switch b1 at end, b0 at home
"""


def built(text: str) -> tuple[Machine, Chart]:
    understood = understand(Source("test", text))
    faults = understood.said(Severity.FAULT)
    assert understood.chart is not None, faults
    return understood.machine, understood.chart


def steps(chart: Chart) -> list[tuple[str, str]]:
    return [(s.name, " ".join(a.output for a in s.actions)) for s in chart.steps]


def condition(chart: Chart, source: str) -> object:
    return next(t.condition for t in chart.transitions if t.sources == (source,))


def test_the_shortest_program_has_default_devices() -> None:
    machine, chart = built("extend until at-end, hold 30 s, retract")
    assert [i.name for i in machine.inputs] == ["LS1", "LS2", "START", "STOP"]
    assert machine.input("STOP").contact is Contact.NORMALLY_CLOSED
    assert steps(chart) == [("S0", ""), ("S1", "SOL1"), ("S2", "SOL1"), ("S3", "")]
    assert [t.condition for t in chart.transitions] == [
        Rise(device="START"),
        Signal(device="LS1"),
        Elapsed(step="S2", time_us=30_000_000),
        Signal(device="LS2"),
    ]
    assert chart.forcing is not None
    assert chart.forcing.condition == Signal(device="STOP")


def test_named_strokes_without_devices_get_a_default_cylinder_each() -> None:
    machine, chart = built("extend A, extend B, retract B, retract A")
    assert [a.name for a in machine.actuators] == ["A", "B"]
    assert [on for _, on in steps(chart)] == ["", "SOL1", "SOL1 SOL2", "SOL1", ""]


def test_no_step_is_called_like_a_device() -> None:
    """S is the class letter of switches worked by hand in IEC 81346-2 (from memory)."""
    switches = (
        PRESS.replace("LS1", "S1").replace("LS2", "s2").replace("pushbutton START", "lamp H9\npushbutton START")
    )
    _, chart = built(switches + "cycle\n    extend RAM until at-end\n    retract RAM until at-home\n")
    assert [step.name for step in chart.steps] == ["XS0", "XS1", "XS2"]
    _, plain = built(PRESS + "cycle\n    extend RAM until at-end\n    retract RAM until at-home\n")
    assert [step.name for step in plain.steps] == ["S0", "S1", "S2"]


def test_a_memory_valve_is_told_for_one_step_only() -> None:
    _, chart = built(PAIR + "cycle\n    extend A\n    extend B\n    retract B\n    retract A\n")
    assert [on for _, on in steps(chart)] == ["", "YA1", "YB1", "YB0", "YA0"]
    assert condition(chart, "S2") == Signal(device="b1")


def test_a_last_memory_stroke_nobody_waits_for_gets_its_shift_pulse() -> None:
    _, chart = built(PAIR.replace("a1 at end, a0 at home", "a1 at end") + "cycle\n    extend A\n    retract A\n")
    assert steps(chart)[-1] == ("S2", "YA0")
    assert condition(chart, "S2") == Elapsed(step="S2", time_us=100_000)


def test_commands_that_wait_for_nothing_join_the_next_step() -> None:
    cycle = "cycle\n    turn on BUSY\n    extend RAM until at-end\n    turn off BUSY\n    retract RAM until at-home\n"
    _, chart = built(PRESS + cycle)
    assert [on for _, on in steps(chart)] == ["", "SOL1 BUSY", ""]


def test_what_stays_on_after_the_cycle_stays_on_at_rest() -> None:
    _, chart = built(PRESS + "cycle\n    turn off BUSY\n    extend RAM\n    retract RAM\n    turn on BUSY\n")
    assert ("R1", "BUSY") in steps(chart)
    assert condition(chart, "R1") == condition(chart, "S0")
    assert [t.targets for t in chart.transitions if t.sources == ("S2",)] == [("R1",)]


@pytest.mark.parametrize(
    ("words", "means"),
    [
        ("LS1 is made", Signal(device="LS1")),
        ("LS1", Signal(device="LS1")),
        ("ls1 is not made", Not(of=Signal(device="LS1"))),
        ("not LS1", Not(of=Signal(device="LS1"))),
        ("at-end", Signal(device="LS1")),
        ("RAM is at-end", Signal(device="LS1")),
        ("ACK is pressed", Rise(device="ACK")),
        ("ACK is held", Signal(device="ACK")),
        ("ACK is released", Not(of=Signal(device="ACK"))),
        ("AUTO is off", Not(of=Signal(device="AUTO"))),
        ("LS3 is closed", Not(of=Signal(device="LS3"))),  # wired normally closed: closed at rest
        ("LS3 is open", Signal(device="LS3")),
        ("PART is closed", Signal(device="PART")),
        ("PS1 is made for 0.5 s", Sustained(of=Signal(device="PS1"), time_us=500_000)),
        ("LS1 or PS1 and PART", Or(of=(Signal(device="LS1"), And(of=(Signal(device="PS1"), Signal(device="PART")))))),
        (
            "(LS1 or PS1) and PART",
            And(of=(Or(of=(Signal(device="LS1"), Signal(device="PS1"))), Signal(device="PART"))),
        ),
        ("LS1 or after 5 s", Or(of=(Signal(device="LS1"), Elapsed(step="S1", time_us=5_000_000)))),
    ],
)
def test_conditions(words: str, means: object) -> None:
    _, chart = built(PRESS + f"cycle\n    extend RAM until {words}\n    retract RAM\n")
    assert condition(chart, "S1") == means


def test_a_time_limit_leads_to_a_fault_step_unless_the_step_ends_at_that_moment() -> None:
    text = PRESS + 'cycle\n    extend RAM until at-end, within 6 s or fault "late"\n    retract RAM\n'
    _, chart = built(text + "when a fault is shown, turn on ALARM\n")
    late = next(t for t in chart.transitions if t.targets == ("F1",))
    assert late.condition == And(of=(Elapsed(step="S1", time_us=6_000_000), Not(of=Signal(device="LS1"))))
    assert (chart.step("F1").fault, chart.step("F1").actions[0].output) == ("late", "ALARM")


def test_home_conditions_join_the_trigger() -> None:
    text = (
        PRESS
        + "home when RAM is at-home and AUTO is on\ncycle\n    when ACK is pressed\n    extend RAM\n    retract RAM\n"
    )
    machine, chart = built(text)
    assert condition(chart, "S0") == And(of=(Rise(device="ACK"), Signal(device="LS2"), Signal(device="AUTO")))
    assert (machine.start, machine.stop) == ("ACK", "STOP")


def test_never_may_speak_of_outputs() -> None:
    _, chart = built(PRESS + "cycle\n    extend RAM\n    retract RAM\nnever SOL1 while PART is open\n")
    assert chart.requirements[0].conditions == (And(of=(Signal(device="SOL1"), Not(of=Signal(device="PART")))),)


def test_the_machine_holds_what_was_said() -> None:
    machine, _ = built(PRESS + "cycle\n    extend RAM\n    retract RAM\n")
    ram = machine.actuator("RAM")
    assert (ram.stroke_um, ram.extend_time.least_us, ram.extend_time.greatest_us) == (200_000, 3_000_000, 4_000_000)
    assert (ram.retract_time.least_us, ram.retract_time.basis) == (2_000_000, TravelBasis.STATED)
    assert [(s.name, s.at_um, s.reset_um, s.toward) for s in ram.limit_switches] == [
        ("LS1", 200_000, 1_000, End.END),
        ("LS2", 0, 1_000, End.HOME),
        ("LS3", 120_000, 2_000, End.END),
    ]
    assert ram.pressure_switches[0].pressure_bar == pytest.approx(68.94757)  # 1 psi = 0.06894757 bar (NIST SP 811)
    assert machine.input("AUTO").kind is InputKind.SELECTOR
    assert machine.input("LS3").contact is Contact.NORMALLY_CLOSED


# Handbook identities: t = stroke x area / flow. First two rows: a US teaching text on hydraulics (section 3.5, its
# inputs 2.5 x 1 in, 24 in, 2.3 gpm), recomputed with exact constants; the rest derived with unrounded pi.
@pytest.mark.parametrize(
    ("bore", "rod", "stroke", "flow", "out_s", "back_s"),
    [
        ("2.5 in", "1 in", "24 in", "2.3 gpm", 13.3043, 11.1756),
        ("3 in", "1.25 in", "16 in", "1.8 gpm", 16.3200, 13.4866),
        ("63 mm", "36 mm", "300 mm", "20 L/min", 2.8055, 1.8894),
        ("80 mm", "56 mm", "400 mm", "40 L/min", 3.0159, 1.5381),
        ("4 in", "2 in", "12 in", "10 gpm", 3.91679, 2.93759),
    ],
)
def test_stroke_times_follow_from_bore_and_flow(
    bore: str, rod: str, stroke: str, flow: str, out_s: float, back_s: float
) -> None:
    text = f"hydraulic cylinder C\n    bore {bore}, rod {rod}, stroke {stroke}, flow {flow}\n"
    machine, _ = built(
        text + "    single solenoid valve Y1\n    limit switch LS1 at end, LS2 at home\nextend\nretract\n"
    )
    cylinder = machine.actuator("C")
    assert cylinder.extend_time.usual_us / 1e6 == pytest.approx(out_s, abs=6e-5)
    assert cylinder.retract_time.usual_us / 1e6 == pytest.approx(back_s, abs=6e-5)
    assert cylinder.extend_time.basis is TravelBasis.DERIVED
    assert cylinder.valve.kind is ValveKind.SPRING_RETURN


@pytest.mark.parametrize(
    ("program", "code", "words"),
    [
        (PRESS + "lamp busy\ncycle\n    extend\n    retract\n", "RW201", "busy"),
        (PRESS + "cycle\n    extend RAMM\n", "RW202", "RAMM"),
        (PRESS + "cycle\n    extend until LS1 is pressed\n", "RW203", "LS1 is pressed"),
        (PRESS + "cycle\n    extend BUSY\n", "RW203", "BUSY"),
        (PRESS + "cycle\n    extend until PART is at-end\n", "RW203", "PART"),
        ("pneumatic cylinder A\ncycle\n    extend A until at-end\n", "RW204", "at-end"),
        (PAIR + "cycle\n    extend\n", "RW205", "extend"),
        (PAIR + "cycle\n    wait until at-end\n", "RW205", "at-end"),
        (PRESS + "cycle\n    hold 3 mm\n", "RW206", "3 mm"),
        (PRESS + "cycle\n    hold 0 s\n", "RW206", "0 s"),
        (PRESS + "cycle\n    wait\n", "RW207", "wait"),
        (PRESS + 'cycle\n    turn on BUSY, within 3 s or fault "x"\n', "RW207", 'within 3 s or fault "x"'),
        (PRESS + "cycle\n    wait until not ACK is pressed\n", "RW208", "ACK is pressed"),
        (PRESS + "cycle\n    wait until BUSY is on\n", "RW209", "BUSY"),
        (PRESS + "cycle\n    when after 3 s\n    extend\n", "RW209", "after 3 s"),
        (PAIR + "cycle\n    extend A and retract A until a1\n", "RW210", "retract A"),
        (PRESS + "cycle\n    extend\n    retract\ncycle\n    extend\n", "RW211", None),
        (PRESS, "RW212", None),
        (PRESS.replace("pushbutton START", "pushbutton GO") + "cycle\n    extend\n", "RW213", None),
        (PRESS.replace("120 mm", "220 mm") + "cycle\n    extend\n", "RW214", "220 mm"),
        (
            PRESS.replace("stroke 200 mm", "bore 40 mm, rod 40 mm, stroke 200 mm") + "cycle\n    extend\n",
            "RW215",
            "rod 40 mm",
        ),
        (PRESS + "cycle\n    turn on PART\n", "RW216", "PART"),
    ],
)
def test_faults_of_meaning_are_placed_on_the_words(program: str, code: str, words: str | None) -> None:
    understood = understand(Source("test", program))
    found = [d for d in understood.diagnostics if d.code == code]
    assert found, [f"{d.code} {d.message}" for d in understood.diagnostics]
    assert understood.chart is None
    if words is not None:
        assert found[0].span is not None
        assert understood.source.words(found[0].span) == words


def test_all_faults_are_told_in_one_run() -> None:
    text = PRESS + "cycle\n    extend RAMM until LS9\n    hold 3 mm\n    turn on PART\n    wait\n"
    codes = [d.code for d in understand(Source("test", text)).said(Severity.FAULT)]
    assert codes == ["RW202", "RW202", "RW206", "RW216", "RW207"]


def test_what_an_unread_declaration_would_have_declared_is_not_missed() -> None:
    text = PRESS.replace("pneumatic", "x").replace("hydraulic cylinder", "hydraulik zylinder")
    codes = {d.code for d in understand(Source("test", text + "cycle\n    extend RAM until at-end\n")).diagnostics}
    assert codes
    assert not codes & {"RW202", "RW204", "RW205", "RW213"}


def test_a_cycle_in_which_nothing_lasts_is_no_cycle() -> None:
    text = "lamp LIT\npushbutton START\ncycle\n    turn off LIT\n"
    assert "RW212" in {d.code for d in understand(Source("test", text)).said(Severity.FAULT)}


@pytest.mark.parametrize(
    ("cycle", "expected"),
    [
        ("extend X until at-end, retract X\n", [("RW202", "X")]),  # nor "at-end of which cylinder"
        ("turn on GREEN, hold 1 s\n    turn off GREEN\n", [("RW202", "GREEN")]),  # to be declared, once
        ("extend RIMA, extend RIMA\n", [("RW202", "RIMA")] * 2),  # a slip is corrected wherever it stands
        ("X+ X-\n", [("RW202", "X")]),
        ("repeat 0 times\n        hold 1 s\n", [("RW165", "repeat 0 times\n        hold 1 s")]),
        ("extend RAMB, retract RAMB\n", [("RW204", "extend RAMB")]),
    ],
)
def test_one_slip_gives_one_message(cycle: str, expected: list[tuple[str, str]]) -> None:
    head = "pneumatic cylinder RAMA\n    limit switch LS1 at end, LS2 at home\npneumatic cylinder RAMB\n"
    source = Source("test", f"{head}pushbutton START\ncycle\n    {cycle}")
    faults = understand(source).said(Severity.FAULT)
    assert [(d.code, source.words(d.span)) for d in faults if d.span is not None] == expected


def test_documents_lose_nothing_and_refuse_what_is_not_one() -> None:
    machine, chart = built(PRESS + "cycle\n    extend until PS1 for 1 s\n    retract\nnever SOL1 and ALARM\n")
    document = Document(machine=machine, chart=chart)
    assert read_document(document.to_json()) == document
    for spoilt in ("", "{}", "[" * 100_000, document.to_json().replace('"S1"', '"S9"', 1)):
        with pytest.raises(NotADocument):
            read_document(spoilt)
        with pytest.raises(ReadBack) as unreadable:
            TARGET.read(spoilt, "press.chart.json", machine)
        assert [d.code for d in unreadable.value.diagnostics] == ["RW217"]


def test_every_step_and_transition_names_its_words() -> None:
    text = (
        PRESS
        + 'cycle\n    when ACK is pressed\n    extend until PS1, within 5 s or fault "x"\n    hold 2 s\n    retract\n'
    )
    understood = understand(Source("test", text))
    assert understood.chart is not None
    words = [s.words for s in understood.chart.steps if not s.initial]
    words += [t.words for t in understood.chart.transitions]
    for said in words:
        assert said.text
        assert " ".join(text[said.start : said.end].split()) == said.text


def test_the_machine_is_told_in_plain_words() -> None:
    machine, chart = built(
        PRESS + "cycle\n    turn on BUSY and extend until at-end\n    hold 2 s\n    turn off BUSY\n    retract\n"
    )
    assert tell(machine, chart) == [
        "When START is pressed:",
        "  1. turn on BUSY and extend RAM until LS1 is made",
        "  2. hold 2 s",
        "  3. turn off BUSY and retract RAM until LS2 is made",
        "     Then rest.",
        "While STOP is held, everything drops out.",
        "With SOL1 off, or the supply lost, RAM retracts.",
    ]


def test_what_is_missing_is_named_in_the_words_of_the_program() -> None:
    """The cures speak of the reader's own cylinder, and of places where a place was misspelt."""
    cylinder = "pneumatic cylinder B\n    limit switch B0 at home\n"
    program = cylinder + "cycle\n    extend B until at-end\n    retract B until at-hom\n"
    cures = {d.code: d.cure for d in understand(Source("<t>", program)).diagnostics}
    assert "under B" in cures["RW204"]
    assert cures["RW202"] == "did you mean at-home?"


def test_the_words_of_a_step_are_the_commands_and_not_what_stands_between() -> None:
    _, chart = built("hydraulic cylinder X\nlamp L\ncycle\n    turn on L   # bright\n    extend X for 2 s\n")
    assert chart.steps[1].words.text == "turn on L, extend X for 2 s"


@pytest.mark.parametrize(
    "program",
    [
        "cycle\n    extend A for 1 min 3 s\n",
        "pneumatic cylinder A\n    memory valve Y1\ncycle\n    extend A for 2 s\n    retract A for 2 s\n",
    ],
)
def test_what_cannot_be_read_is_not_called_missing(program: str) -> None:
    """One mistake, one message: the cycle is there, and so is the valve."""
    assert len(understand(Source("<t>", program)).diagnostics) == 1
