"""The drawings: what they say is so, and nothing lies on anything else."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from compiler.chart_logic import chart_logic
from compiler.simulation.causes import Cause
from compiler.simulation.lanes import shared_rows
from compiler.simulation.run import Clock, Event, EventKind, Pace, Role, Scenario, Side
from compiler.simulation.traces import rods, traces
from targets.anchors import moment_anchor
from targets.command_line import main
from targets.drawing.figure import text_width
from targets.implementation import implementation
from targets.motion import motion_step_chart, motion_time_chart, timing_chart
from targets.motion.step import steps_of
from targets.motion.turning import turnings
from targets.target import CAUTION, Options
from tests.motion.runs import EXAMPLES, Ran, example, of_scenario, pressed, program, ran

_SVG = "{http://www.w3.org/2000/svg}"
_SIZES = {"title": 15, "under": 12, "row": 12, "group": 11, "note": 11, "small": 10, "tick": 10}
_BUNG = next(p for p in EXAMPLES if p.stem == "bung-press")
_KINDS = ("timing", "step", "time")


def drawing(kind: str, made: Ran) -> ElementTree.Element:
    match kind:
        case "timing":
            text = timing_chart(made.run, made.machine, why=made.why, chart=made.chart)
        case "step":
            text = motion_step_chart(made.run, made.machine, why=made.why)
        case _:
            text = motion_time_chart(made.run, made.machine, why=made.why)
    return ElementTree.fromstring(text)


Rectangle = tuple[float, float, float, float]


def place(text: ElementTree.Element) -> Rectangle:
    """The rectangle of a text, 0.8 em above its baseline and 0.2 em below it."""
    size = _SIZES[text.get("class", "")]
    x, y, width = float(text.get("x", "")), float(text.get("y", "")), text_width(text.text or "", size=size)
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[text.get("text-anchor", "")]
    return left, y - 0.8 * size, left + width, y + 0.2 * size


def overlap(one: Rectangle, other: Rectangle) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def words(root: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{_SVG}text")]


def corners(line: ElementTree.Element) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in line.get("points", "").split())]


def clashes(root: ElementTree.Element) -> list[tuple[str | None, object]]:
    """Texts on texts, over the edge of the page, or under the line of a signal (straight pieces only)."""
    texts = list(root.iter(f"{_SVG}text"))
    width, height = float(root.get("width", "")), float(root.get("height", ""))
    found: list[tuple[str | None, object]] = []
    where = [(text, place(text)) for text in texts]
    found += [(a.text, b.text) for (a, one), (b, other) in combinations(where, 2) if overlap(one, other)]
    for text, (left, top, right, bottom) in where:
        if left < 0 or top < 0 or right > width or bottom > height:
            found.append((text.text, "the edge"))
    for line in root.iter(f"{_SVG}polyline"):
        if line.get("class") == "signal":
            points = corners(line)
            for (x1, y1), (x2, y2) in pairwise(points):
                piece = (min(x1, x2), min(y1, y2), max(x1, x2) + 0.01, max(y1, y2) + 0.01)
                found += [(text.text, "a signal") for text, box in where if overlap(piece, box)]
    return found


@pytest.mark.parametrize("kind", _KINDS)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_no_label_lies_on_another_or_over_the_edge(path: Path, kind: str) -> None:
    root = drawing(kind, example(path))
    assert clashes(root) == []
    assert CAUTION in " ".join(words(root))


@pytest.mark.parametrize("kind", _KINDS)
def test_no_label_lies_on_another_of_the_largest_machine(kind: str) -> None:
    assert clashes(drawing(kind, example(EXAMPLES[0].parent / "large" / "tray-transfer.seq"))) == []


@pytest.mark.parametrize("of", ["step-chain", "one-hot"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_no_label_lies_on_another_where_a_circuit_drives(path: Path, of: str) -> None:
    assert clashes(drawing("timing", example(path, of=of))) == []


@pytest.mark.parametrize("kind", _KINDS)
def test_no_label_lies_on_another_where_much_happens(kind: str) -> None:
    assert clashes(drawing(kind, example(_BUNG, run="three cycles"))) == []
    assert clashes(drawing(kind, example(_BUNG, run="START held throughout", of="one-shot", beside="sequence"))) == []


@pytest.mark.parametrize("kind", _KINDS)
@pytest.mark.parametrize(
    ("stem", "run"),
    [
        ("tile-press", "a mix of everything (10)"),
        ("tile-press", "LS1 is made for good in step S1"),
        ("weir-gate", "LS1 is made for a moment in step S1"),
        ("crate-stamp", "STAMP jams, STOP, freed, started again"),
    ],
)
def test_no_label_lies_on_another_where_things_go_wrong(stem: str, run: str, kind: str) -> None:
    assert clashes(drawing(kind, example(next(p for p in EXAMPLES if p.stem == stem), run=run))) == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_switch_that_makes_in_a_cycle_is_named_where_the_rod_is(path: Path) -> None:
    made = example(path)
    owned = {s.name for a in made.machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
    moved = min((m.at_us for m in made.run.moves if m.way), default=0)
    makes = {c.signal for c in made.run.changes if c.on and c.at_us > moved and c.signal in owned}
    for kind in ("step", "time"):
        assert makes <= set(words(drawing(kind, made)))


# --- displacement and steps ------------------------------------------------------------------------------------


def cylinders(names: str) -> str:
    text = ""
    for k, name in enumerate(names):
        text += f"pneumatic cylinder {name}\n    stroke 100 mm\n    extends in 1 s, retracts in 1 s\n"
        text += f"    double solenoid valve Y{k}A extends, Y{k}B retracts\n"
        text += f"    limit switch {name}1 at end, {name}0 at home\n"
    return text + "pushbutton START, normally open\n"


def cycle(letters: str) -> str:
    names = "".join(sorted({move[0] for move in letters.split()}))
    ways = {"+": ("extend", "at-end"), "-": ("retract", "at-home")}
    lines = [f"    {ways[move[1]][0]} {move[0]} until {ways[move[1]][1]}\n" for move in letters.split()]
    return cylinders(names) + "cycle\n    when START is pressed\n" + "".join(lines)


@pytest.mark.parametrize(
    ("letters", "bands"),
    [
        ("A+ B+ B- A-", {"A": [0, 1, 1, 1, 0], "B": [0, 0, 1, 0, 0]}),
        (
            "A+ B+ C+ A- B- C-",
            {"A": [0, 1, 1, 1, 0, 0, 0], "B": [0, 0, 1, 1, 1, 0, 0], "C": [0, 0, 0, 1, 1, 1, 0]},
        ),
    ],
)
def test_bands_of_the_textbook_sequences(letters: str, bands: dict[str, list[int]]) -> None:
    """VDI 3260, from teaching texts: n steps have n + 1 boundaries; worked out by hand from the letters."""
    made = ran(program(cycle(letters)))
    steps = steps_of(made.run, made.machine)
    assert {rod.name: list(at) for rod, at in steps.rods} == bands
    root = drawing("step", made)
    lines = [corners(line) for line in root.iter(f"{_SVG}polyline") if line.get("class") == "rod"]
    for line, levels in zip(lines, bands.values(), strict=True):
        low, high = max(y for _, y in line), min(y for _, y in line)
        assert [(low - y) / (low - high) for _, y in line] == levels
        gaps = {round(b[0] - a[0], 1) for a, b in pairwise(line)}
        assert len(gaps) == 1  # equally wide, whatever time they take
    n = len(letters.split())
    assert {*map(str, range(1, n + 1)), f"{n + 1} = 1"} <= set(words(root))


def test_a_hold_is_a_step_in_which_all_stand() -> None:
    made = ran(program("extend until at-end, hold 30 s, retract"))
    ((_, at),) = steps_of(made.run, made.machine).rods
    assert list(at) == [0, 1, 1, 0]


_WAITING = """
pneumatic cylinder A
    extends in 4 s, retracts in 1 s
    single solenoid valve SOL1, spring return
    limit switch A1 at end, A0 at home
pneumatic cylinder B
    extends in 0.2 s, retracts in 0.5 s
    single solenoid valve SOL2, spring return
    limit switch B1 at end, B0 at home
cycle
    when START is pressed
    together
        extend A
    meanwhile
        extend B, hold 1 s, retract B
    retract A
"""


def test_a_hold_is_a_step_also_while_another_rod_is_on_its_way() -> None:
    """B is out after 0.2 s of A's 4 s, stays there for 1 s and comes home: worked out by hand."""
    made = ran(program(_WAITING))
    steps = steps_of(made.run, made.machine)
    spans = [to_us - from_us for from_us, to_us in pairwise(steps.at_us)]
    assert spans == [200_000, 1_000_000, 2_800_000, 1_000_000]
    levels = {rod.name: at for rod, at in steps.rods}
    assert levels["B"][:3] == (0, 1, 1)
    assert levels["A"] == pytest.approx((0, 1 / 3, 2 / 3, 1, 0))


def test_a_switch_just_short_of_the_end_ends_the_stroke_as_far_as_steps_go() -> None:
    """B sets out at 98 mm of A's 100 mm: a teacher draws A as arrived."""
    made = ran(
        program(cycle("A+ B+ B- A-").replace("A1 at end", "A1 at 98 mm").replace("A until at-end", "A until A1"))
    )
    steps = steps_of(made.run, made.machine)
    assert [list(at) for _, at in steps.rods] == [[0, 1, 1, 1, 0], [0, 0, 1, 0, 0]]


def test_the_moment_pressure_takes_to_build_up_is_no_step_and_a_hold_on_it_is() -> None:
    text = "hydraulic cylinder A\n    stroke 100 mm\n    pressure switch PS1 at 60 bar\n    limit switch A0 at home\n"
    for until, levels in (("PS1", [0, 1, 0]), ("PS1 is made for 2 s", [0, 1, 1, 0])):
        made = ran(
            program(f"{text}cycle\n    when START is pressed\n    extend A until {until}\n    retract A until A0\n")
        )
        ((_, at),) = steps_of(made.run, made.machine).rods
        assert list(at) == levels


def test_an_arrow_leads_from_the_switch_to_the_rod_that_sets_out_upon_it() -> None:
    """In A+ B+ B- A-: from START to A, from A's end to B, and from B's home to A; b1 reverses B itself."""
    root = drawing("step", ran(program(cycle("A+ B+ B- A-"))))
    rods = [corners(line) for line in root.iter(f"{_SVG}polyline") if line.get("class") == "rod"]
    x = [place for place, _ in rods[0]]
    arrows = [line for line in root.iter(f"{_SVG}line") if line.get("class") == "cause"]
    ends = [(float(a.get("x1", "")), float(a.get("y1", "")), float(a.get("y2", ""))) for a in arrows]
    assert [round(end[0], 1) for end in ends] == [x[0], x[1], x[3]]
    a_out, b_home, b_back = rods[0][1][1], rods[1][1][1], rods[1][3][1]
    assert ends[1][1:] == pytest.approx((a_out, b_home - 2), abs=0.2)
    assert ends[2][1:] == pytest.approx((b_back, rods[0][3][1] + 2), abs=0.2)


@pytest.mark.parametrize(
    ("run", "said"), [("jams, STOP, freed", "freed"), ("supply lost in step S1, back after 1 s", "supply lost")]
)
def test_what_else_lets_a_rod_set_out_is_said_over_its_arrow(run: str, said: str) -> None:
    """A spring brings the stamp home as the supply is lost; freed, it goes on."""
    made = example(next(p for p in EXAMPLES if p.stem == "crate-stamp"), run=run)
    assert said in words(drawing("step", made))
    assert "time over" not in words(drawing("step", made))


# --- causes ----------------------------------------------------------------------------------------------------


def test_causes_and_clocks_of_a_dwell_by_an_on_delay_timer() -> None:
    """START seals CR1 in, which sends the ram out; LS1 starts TR1, and TR1 drops CR1 out: read off its rungs."""
    made = example(_BUNG, of="on-delay")
    at = {c.signal: c.at_us for c in made.run.changes if c.on and c.signal in ("START", "LS1")}
    driver, over = Side.DRIVER, at["LS1"] + 4_000_000
    ran = Clock(side=driver, timer="TR1", preset_us=4_000_000, from_us=at["LS1"], to_us=over, ran_out=True)
    assert made.why.clocks == made.run.clocks == (ran,)
    assert set(made.why.causes) == {
        Cause(at["START"], driver, "START", False, Role.INSIDE, "CR1"),
        Cause(at["START"], driver, "START", False, Role.OUTPUT, "SOL1"),
        Cause(at["LS1"], driver, "LS1", False, Role.INSIDE, "TR1", clock=True),
        Cause(over, driver, "TR1", True, Role.INSIDE, "CR1"),
        Cause(over, driver, "TR1", True, Role.OUTPUT, "SOL1"),
    }


_TWO = """
pushbutton START, normally open
sensor PART
lamp BUSY

cycle
    when {}
    turn on BUSY
    hold 1 s
"""


@pytest.mark.parametrize(
    ("condition", "causes"),
    [
        ("START is pressed", {"START"}),
        ("START is pressed and PART is made", {"START", "PART"}),
        ("START is held or PART is made", {"START", "PART"}),
    ],
)
def test_of_two_changes_at_one_instant_the_cause_is_that_without_which_nothing_comes(
    condition: str, causes: set[str]
) -> None:
    what = program(_TWO.format(condition))
    assert what.chart is not None, what.diagnostics
    events = pressed((500, "START", True), (500, "PART", True), (800, "START", False), (800, "PART", False))
    scenario = Scenario(name="both at once", duration_us=1_200_000, events=events)
    made = of_scenario(what, scenario, chart_logic(what.chart))
    assert {c.of for c in made.why.causes if c.signal == "BUSY" and c.at_us == 500_000} == causes


# --- two side by side ------------------------------------------------------------------------------------------


def test_where_two_differ_both_rows_are_shaded_and_nowhere_else() -> None:
    made = example(_BUNG, run="START held throughout", of="one-shot", beside="sequence")
    difference = made.run.difference
    assert difference is not None
    root = drawing("timing", made)
    shaded = [box for box in root.iter(f"{_SVG}rect") if box.get("class") == "differs"]
    (first,) = (line for line in root.iter(f"{_SVG}line") if line.get("class") == "first")
    assert {box.get("x") for box in shaded} == {first.get("x1")}
    assert len({box.get("y") for box in shaded}) == len(shaded) == 2
    assert f"differs: {difference.output}" in words(root)
    alone = drawing("timing", example(_BUNG, of="one-shot"))
    assert not [box for box in alone.iter(f"{_SVG}rect") if box.get("class") == "differs"]


def test_what_a_stuck_switch_does_is_not_drawn_as_if_its_rod_did_it() -> None:
    """LS1, at the end, is stuck made at 0.5 s, while the rod stands at home; START at 1 s sends the rod out."""
    what = program("extend until at-end, hold 2 s, retract")
    s = 1_000_000
    scenario = Scenario(
        name="stuck",
        duration_us=9 * s,
        events=(
            Event(at_us=s // 2, kind=EventKind.STUCK_MADE, device="LS1", on=True),
            *pressed((1000, "START", True), (1300, "START", False)),
        ),
    )
    assert what.chart is not None
    made = of_scenario(what, scenario, chart_logic(what.chart))
    for kind in ("timing", "time"):
        root = drawing(kind, made)
        line = next(iter(bands(root)))
        marks = {float(m.get("cx", "")) for m in root.iter(f"{_SVG}circle") if m.get("class") in ("made", "mark")}
        assert not [x for x in marks if x < line[1][0]]  # none before the rod sets out
    timing = drawing("timing", made)
    assert "LS1 stuck" in words(timing)
    rows = {t.text: float(t.get("y", "")) - 4 for t in timing.iter(f"{_SVG}text") if t.get("class") == "row"}
    causes = [line for line in timing.iter(f"{_SVG}line") if line.get("class") == "cause"]
    assert any(float(line.get("y1", "")) == pytest.approx(rows["LS1 stuck"], abs=0.1) for line in causes)


def test_a_rod_that_was_slow_as_the_run_ended_is_drawn_where_it_was() -> None:
    """It was to come to 1 mm within 2 s, of which the run saw all but a microsecond."""
    what = program("extend until at-end, retract")
    (rod,) = what.machine.actuators
    pace = Pace(actuator=rod.name, from_us=500_000, at_um=1_000, by_us=2_500_001)
    scenario = Scenario(name="slow", duration_us=2_500_000, events=pressed((500, "START", True)), paces=(pace,))
    assert what.chart is not None
    made = of_scenario(what, scenario, chart_logic(what.chart))
    ((drawn,)) = rods(made.run, made.machine)
    assert drawn.at(2_500_000) == pytest.approx(1_000, abs=2)
    assert not [t for t in words(drawing("time", made)) if t.endswith(" s")]  # how long the stroke takes is not seen


def test_the_same_beside_itself_has_no_shade() -> None:
    root = drawing("timing", example(_BUNG, of="on-delay", beside="sequence"))
    assert not [box for box in root.iter(f"{_SVG}rect") if box.get("class") == "differs"]


def test_only_what_is_chosen_is_drawn() -> None:
    made = example(_BUNG)
    root = ElementTree.fromstring(timing_chart(made.run, made.machine, only=("START", "SOL1")))
    rows = [text.text for text in root.iter(f"{_SVG}text") if text.get("class") == "row"]
    assert rows == ["START", "SOL1"]


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "a & b", 'say "no"', "‮evil", "😀" * 40, "x" * 300])
@pytest.mark.parametrize("kind", _KINDS)
def test_odd_names_stay_text_and_in_their_place(kind: str, name: str) -> None:
    made = example(_BUNG)
    changes = tuple(c.model_copy(update={"signal": name}) if c.signal == "START" else c for c in made.run.changes)
    inputs = tuple(i.model_copy(update={"name": name}) if i.name == "START" else i for i in made.machine.inputs)
    run = made.run.model_copy(update={"machine": name, "driver": name, "changes": changes})
    root = drawing(kind, Ran(made.machine.model_copy(update={"inputs": inputs}), made.chart, run, made.why))
    assert not list(root.iter(f"{_SVG}script"))
    assert clashes(root) == []


# --- the command -----------------------------------------------------------------------------------------------


def test_the_command_writes_what_the_name_ends_in_and_nothing_over_a_file(tmp_path: Path) -> None:
    for name, begins in (("a.svg", "<svg"), ("a.vcd", "$comment"), ("a.csv", "time in s,")):
        out = tmp_path / name
        result = CliRunner().invoke(main, ["chart", str(_BUNG), "-o", str(out)])
        assert result.exit_code == 0, result.output
        assert out.read_text(encoding="utf-8").lstrip().startswith(begins)
    again = CliRunner().invoke(main, ["chart", str(_BUNG), "-o", str(tmp_path / "a.svg")])
    assert (again.exit_code, "already there" in again.output) == (2, True)
    other = CliRunner().invoke(main, ["chart", str(_BUNG), "-o", str(tmp_path / "a.txt")])
    assert (other.exit_code, ".vcd" in other.output) == (2, True)
    stranger = CliRunner().invoke(main, ["chart", str(_BUNG), "--signal", "NOPE", "-o", str(tmp_path / "b.svg")])
    assert (stranger.exit_code, "nothing called NOPE" in stranger.output) == (2, True)


def test_every_kind_of_drawing_is_to_be_had(tmp_path: Path) -> None:
    texts = set()
    for kind in ("timing", "motion-step", "motion-time"):
        out = tmp_path / f"{kind}.svg"
        result = CliRunner().invoke(main, ["chart", str(_BUNG), "--kind", kind, "-o", str(out)])
        assert result.exit_code == 0, result.output
        texts.add(out.read_text(encoding="utf-8"))
    assert len(texts) == 3


def test_of_a_relay_circuit_its_relays_are_drawn() -> None:
    what = program(_BUNG.read_text(encoding="utf-8"))
    made = ran(what, of="on-delay")
    assert implementation("on-delay", what, Options()).logic.name == made.run.driver
    assert {"CR1", "TR1 elapsed"} <= set(words(drawing("timing", made)))


# --- motors, stations, moments ----------------------------------------------------------------------------------

_WINCH = """
electric motor WINCH, M1 forward, M2 reverse
motor FAN
pushbutton START, normally open

cycle
    when START is pressed
    turn on FAN and run WINCH forward for 2 s
    stop WINCH and wait 1 s
    run WINCH in reverse for 2 s
    stop WINCH
    turn off FAN
"""


def bands(root: ElementTree.Element) -> list[list[tuple[float, float]]]:
    return [corners(line) for line in root.iter(f"{_SVG}polyline") if line.get("class") == "rod"]


def test_motors_stand_run_and_run_in_reverse_in_bands_of_their_own() -> None:
    """From START at 0.5 s: forward for 2 s, still for 1 s, in reverse for 2 s; the fan runs all the while."""
    made = ran(program(_WINCH))
    at = next(c.at_us for c in made.run.changes if c.signal == "START" and c.on)
    s = 1_000_000
    winch, fan = turnings(made.run, made.machine)
    assert winch.ways == ((0, 0), (at, 1), (at + 2 * s, 0), (at + 3 * s, -1), (at + 5 * s, 0))
    assert fan.ways == ((0, 0), (at, 1), (at + 5 * s, 0))
    for kind in ("step", "time"):
        root = drawing(kind, made)
        assert clashes(root) == []
        assert {"WINCH", "FAN", "forward", "reverse", "runs"} <= set(words(root))
        heights = [[y for _, y in line] for line in bands(root)]
        still = heights[0][0]
        assert min(heights[0]) < still < max(heights[0])  # above and below where it stands
        assert min(heights[1]) < heights[1][0] == max(heights[1])
    assert {"WINCH", "forward", "reverse"} <= set(words(drawing("timing", made)))


def test_motors_make_steps_as_rods_do() -> None:
    made = ran(program(_WINCH))
    steps = steps_of(made.run, made.machine)
    assert [ways for _, ways in steps.motors] == [(1, 0, -1, 0), (1, 1, 1, 0)]
    assert [b - a for a, b in pairwise(steps.at_us)] == [2_000_000, 1_000_000, 2_000_000]


_LARGE = EXAMPLES[0].parent / "large" / "tray-transfer.seq"


def test_each_station_has_rows_of_its_own_and_a_branch_stays_in_its_lane() -> None:
    made = example(_LARGE)
    inside = [t for t in traces(made.run) if t.role is Role.INSIDE]
    rows, single = shared_rows(inside, made.run.ended_us, made.chart)
    assert [title for title, _ in rows] == ["LOADER", "LOADER", "PRESSER", "TRAYS"]
    assert not single
    for title, lane in rows[:3]:
        assert all(span.name == f"{title}_{span.shown}" for span in lane)
        assert all(a.to_us <= b.from_us for a, b in pairwise(lane))
    first, second = ([span.shown for span in lane] for _, lane in rows[:2])
    assert first[:4] == ["S0", "S1", "S2", "S3"]
    assert second[0] == "S4"
    assert "S5" in first  # where branches are joined the first of them goes on
    shown = sorted((span.name, span.from_us, span.to_us) for _, lane in rows[:3] for span in lane)
    steps = {step.name for step in made.chart.steps}
    assert shown == sorted((t.name, *span) for t in inside if t.name in steps for span in t.spans(made.run.ended_us))


def test_a_stroke_that_takes_several_steps_is_one_straight_line() -> None:
    """LIFT rises while GATE and ESCAPE make two steps and a third begins: a third of the way in each."""
    made = example(_LARGE)
    at = {rod.name: levels for rod, levels in steps_of(made.run, made.machine).rods}
    assert at["LIFT"][:5] == pytest.approx((0, 1 / 3, 2 / 3, 1, 1))


@pytest.mark.parametrize("kind", _KINDS)
@pytest.mark.parametrize("path", [*EXAMPLES, _LARGE], ids=lambda path: path.stem)
def test_no_name_of_a_switch_lies_on_an_arrow_or_a_rod(path: Path, kind: str) -> None:
    root = drawing(kind, example(path))
    lines = [
        ((float(a.get("x1", "")), float(a.get("y1", ""))), (float(a.get("x2", "")), float(a.get("y2", ""))))
        for a in root.iter(f"{_SVG}line")
        if a.get("class") == "cause"
    ]
    lines += [piece for line in bands(root) for piece in pairwise(line)]
    names = {s.name for a in example(path).machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
    small = [text for text in root.iter(f"{_SVG}text") if text.get("class") == "small" and text.text in names]
    assert [text.text for text in small for line in lines if _through(line, place(text))] == []


def _through(line: tuple[tuple[float, float], tuple[float, float]], box: Rectangle) -> bool:
    """Whether any of a hundred points of a line lies in a box."""
    (x1, y1), (x2, y2) = line
    points = ((x1 + (x2 - x1) * k / 100, y1 + (y2 - y1) * k / 100) for k in range(101))
    return any(box[0] < x < box[2] and box[1] < y < box[3] for x, y in points)


@pytest.mark.parametrize("kind", _KINDS)
def test_a_moment_has_an_anchor_where_it_stands(kind: str) -> None:
    made = example(_BUNG)
    root = drawing(kind, made)
    anchors = {line.get("id"): float(line.get("x1", "")) for line in root.iter(f"{_SVG}line") if line.get("id")}
    out = next(m.at_us for m in made.run.moves if m.way)
    assert anchors[moment_anchor(out)] == bands(root)[0][0 if kind == "step" else 1][0]
    assert list(anchors.values()) == sorted(anchors.values())
    if kind == "timing":
        assert set(anchors) >= {moment_anchor(c.at_us) for c in made.run.changes}
