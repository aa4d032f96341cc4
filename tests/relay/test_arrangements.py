"""The dwell arrangements beside the chart on a press, what they refuse, and what they print."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from compiler.chart import Action, Chart, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Elapsed, Not, Or, Rise, Signal, both
from compiler.machine import End, Input, InputKind, Machine, PressureSwitch, Valve, ValveKind
from compiler.proof.prove import prove
from compiler.proof.world import Assumed
from grammar.reading import ReadBack
from grammar.rungs import read, write
from grammar.source import Source
from targets.build import announced
from targets.relay import TARGET
from targets.target import CAUTION, Artefact, Assumption, Options, Refusal
from tests.relay.clock import Player
from tests.relay.press import (
    CHART,
    HOLD,
    MACHINE,
    TICK,
    TRAVEL,
    careful,
    chart,
    emitted,
    first_difference,
    free,
    machine,
)

NAMES = ("on-delay", "off-delay", "one-shot", "step-chain")
ANYWHERE = chart(Rise(device="START"))
EXACT = machine(least=TRAVEL)
_ONE_SHOT = {Assumption.STROKE_TIME, Assumption.NO_JAM}


def differences(arrangement: str, of: Chart, operator: object, *, anti_repeat: bool, speed: int = 1) -> list[str]:
    rungs, _ = emitted(arrangement, of, anti_repeat=anti_repeat)
    printed = TARGET.read(rungs.text, rungs.file, MACHINE)
    told = [first_difference(of, printed, operator(seed), speed=speed) for seed in range(12)]  # type: ignore[operator]  # careful or free
    return [difference for difference in told if difference]


@pytest.mark.parametrize("anti_repeat", [False, True])
@pytest.mark.parametrize("of", [CHART, ANYWHERE], ids=["home contact", "no home contact"])
@pytest.mark.parametrize("arrangement", NAMES)
def test_every_arrangement_is_the_chart_for_a_careful_operator(
    arrangement: str, of: Chart, anti_repeat: bool
) -> None:
    """The slowest stroke is the exact one, so the one-shot is the same too."""
    assert differences(arrangement, of, careful, anti_repeat=anti_repeat) == []


@pytest.mark.parametrize("arrangement", NAMES)
def test_with_anti_repeat_and_a_home_contact_every_operator_gets_the_chart(arrangement: str) -> None:
    assert differences(arrangement, CHART, free, anti_repeat=True) == []


@pytest.mark.parametrize("arrangement", NAMES)
def test_without_anti_repeat_a_free_operator_finds_the_difference_that_is_announced(arrangement: str) -> None:
    assert differences(arrangement, CHART, free, anti_repeat=False)
    assert Assumption.START_RELEASED in emitted(arrangement)[0].announces


def test_a_one_shot_holds_longer_after_a_quick_stroke_and_says_so() -> None:
    assert differences("one-shot", CHART, careful, anti_repeat=True, speed=2)
    assert differences("on-delay", CHART, careful, anti_repeat=True, speed=2) == []
    assert Assumption.STROKE_TIME in emitted("one-shot")[0].announces


@pytest.mark.parametrize(
    ("arrangement", "of", "on", "anti_repeat", "needs"),
    [
        ("on-delay", CHART, MACHINE, True, set()),
        ("off-delay", CHART, MACHINE, True, set()),
        ("step-chain", CHART, MACHINE, True, set()),
        ("step-chain", ANYWHERE, MACHINE, True, set()),
        # Within its reset travel the home switch is made though the ram is not home: the pulse is then too long.
        ("one-shot", CHART, MACHINE, True, {*_ONE_SHOT, Assumption.START_AT_HOME}),
        ("one-shot", CHART, EXACT, True, {Assumption.NO_JAM, Assumption.START_AT_HOME}),
        ("on-delay", ANYWHERE, MACHINE, True, {Assumption.START_AT_HOME}),
        ("off-delay", ANYWHERE, MACHINE, True, {Assumption.START_AT_HOME}),
        ("one-shot", ANYWHERE, MACHINE, True, {*_ONE_SHOT, Assumption.START_AT_HOME}),
        ("step-chain", ANYWHERE, MACHINE, False, {Assumption.START_RELEASED, Assumption.SUPPLY_WITH_START}),
        ("on-delay", chart(both(Signal(device="START"), Signal(device="LS2"))), MACHINE, False, set()),
    ],
)
def test_what_is_announced(
    arrangement: str, of: Chart, on: Machine, anti_repeat: bool, needs: set[Assumption]
) -> None:
    rungs, _ = emitted(arrangement, of, anti_repeat=anti_repeat, on=on)
    looks_otherwise = arrangement != "step-chain"  # dwell circuits do
    needs = needs | ({Assumption.SWITCHES_WORK} if looks_otherwise else set())
    assert rungs.announces == needs
    for assumption in needs:
        assert f"# - {assumption}" in rungs.text


def test_the_one_shot_preset_is_the_greatest_stroke_and_the_dwell() -> None:
    """2 s for the slowest stroke and 3 s of hold."""
    assert re.findall(r"timer .*", emitted("one-shot")[0].text) == ["timer TR1, one-shot 5 s"]


@pytest.mark.parametrize("arrangement", NAMES)
def test_a_press_at_the_instant_of_coming_home_is_told_where_it_matters(arrangement: str) -> None:
    """The chart is still waiting for LS2 at that instant and lets the press go by; the dwell circuits have forgotten
    the cycle by then. The step chain has not."""
    rungs, _ = emitted(arrangement, anti_repeat=True)
    printed = Player(TARGET.read(rungs.text, rungs.file, MACHINE))
    ticks = [(0, 0, 0, 1), (1, 0, 0, 1), (0, 0, 0, 0), (0, 0, 1, 0), (0, 0, 1, 0), (0, 0, 0, 0), (1, 0, 0, 1)]
    printed.power_up((False, False, False, True), 0)
    at = 0
    for k, inputs in enumerate(ticks):
        at += HOLD * TICK if k in (4, 5) else TICK
        for due in sorted({*printed.due.values(), at}):
            if due <= at:
                printed.react(tuple(map(bool, ticks[k - 1] if due < at else inputs)), due)
    starts = printed.outputs[0] is True
    assert starts == (arrangement != "step-chain")
    assert ("at the very moment" in " ".join(rungs.text.replace("# ", "").split())) == starts


def test_an_open_loop_stroke_makes_an_exact_one_shot() -> None:
    of = chart(out=Elapsed(step="S1", time_us=15 * TICK))
    rungs, _ = emitted("one-shot", of, anti_repeat=True)
    assert rungs.announces == {Assumption.SWITCHES_WORK}
    assert "timer TR1, one-shot 4.5 s" in rungs.text
    assert differences("one-shot", of, free, anti_repeat=True) == []


def refusal(arrangement: str, of: Chart, on: Machine = MACHINE) -> str:
    (found,) = TARGET.emit(on, of, options=Options(arrangements=(arrangement,)))
    assert isinstance(found, Refusal)
    return found.reason


def _with(transitions: tuple[Transition, ...] = (), steps: tuple[Step, ...] = ()) -> Chart:
    return CHART.model_copy(
        update={"transitions": (*CHART.transitions, *transitions), "steps": (*CHART.steps, *steps)}
    )


def _without(name: str) -> Chart:
    """The press without one of its steps: what led into it leads past it."""
    (past,) = (t.targets for t in CHART.transitions if t.sources == (name,))
    ways = [t for t in CHART.transitions if t.sources != (name,)]
    joined = (t.model_copy(update={"targets": past}) if t.targets == (name,) else t for t in ways)
    return CHART.model_copy(
        update={"steps": tuple(s for s in CHART.steps if s.name != name), "transitions": tuple(joined)}
    )


def _lit(**on: str) -> Chart:
    """The press with another output (or none) on in some steps."""
    actions = {name: (Action(output=output),) if output else () for name, output in on.items()}
    steps = (s.model_copy(update={"actions": actions.get(s.name, s.actions)}) for s in CHART.steps)
    return CHART.model_copy(update={"steps": tuple(steps)})


def _busy(*steps: str, of: Chart = CHART) -> Chart:
    """The press with its lamp on in some steps besides."""
    lit = (s.model_copy(update={"actions": (*s.actions, Action(output="BUSY"))}) for s in of.steps if s.name in steps)
    found = {s.name: s for s in lit}
    return of.model_copy(update={"steps": tuple(found.get(s.name, s) for s in of.steps)})


def _limited(out: int = 25, back: int = 25) -> Chart:
    """The press with a time limit on either stroke, in ticks; the lamp shows the fault on the way home."""
    limits = (("S1", "F1", "LS1", out), ("S3", "F2", "LS2", back))
    return _with(
        tuple(
            Transition(
                name=f"X{step}",
                sources=(step,),
                targets=(fault,),
                condition=both(Elapsed(step=step, time_us=ticks * TICK), Not(of=Signal(device=end))),
            )
            for step, fault, end, ticks in limits
        ),
        (
            Step(name="F1", fault="did not arrive"),
            Step(name="F2", fault="no return", actions=(Action(output="BUSY"),)),
        ),
    )


DWELLS = ("on-delay", "off-delay", "one-shot")
PHASES = [steps for k in (1, 2, 3) for steps in combinations(("S1", "S2", "S3"), k)]


@pytest.mark.parametrize("anti_repeat", [False, True])
@pytest.mark.parametrize("limited", [False, True], ids=["no limits", "time limits"])
@pytest.mark.parametrize("arrangement", DWELLS)
def test_a_lamp_in_any_phases_is_proved_and_takes_no_more_for_granted(
    arrangement: str, limited: bool, anti_repeat: bool
) -> None:
    """What is announced is just what the proof needs. A time limit shorter than the pulse sees a jam, which a
    one-shot without one does not."""
    for steps in PHASES:
        of = _busy(*steps, of=_limited() if limited else CHART)
        rungs, _ = emitted(arrangement, of, anti_repeat=anti_repeat)
        proof = prove(chart_logic(of), TARGET.read(rungs.text, rungs.file, MACHINE), MACHINE)
        assert set(proof.needs) == announced(rungs.announces) - {Assumed.APART}, steps
        assert (Assumption.NO_JAM in rungs.announces) == (arrangement == "one-shot" and not limited)


def test_a_time_limit_that_comes_after_the_pulse_does_not_see_a_jam() -> None:
    """The pulse is 5 s: at a limit of 5 s the cylinder is on its way home already."""
    assert Assumption.NO_JAM in emitted("one-shot", _limited(out=50))[0].announces
    assert Assumption.NO_JAM not in emitted("one-shot", _limited(out=49))[0].announces


_SWITCH_TELLS = {("S1",): "CR1, LS1 NC", ("S2",): "CR1, LS1", ("S1", "S2"): "CR1", ("S3",): "CR2, CR1 NC"}
_RELAY_TELLS = {("S1",): "CR1", ("S2",): "CR1 NC, TR1 NOTO", ("S1", "S2"): "TR1 NOTO", ("S3",): "CR2, TR1 NCTC"}


@pytest.mark.parametrize(("arrangement", "tells"), [("on-delay", _SWITCH_TELLS), ("off-delay", _RELAY_TELLS)])
def test_the_contacts_a_circuit_has_anyway_tell_its_phases(
    arrangement: str, tells: dict[tuple[str, ...], str]
) -> None:
    for steps, contacts in (tells | {("S1", "S2", "S3"): "CR2"}).items():
        rungs, _ = emitted(arrangement, _busy(*steps))
        assert re.findall(r"rung \d+: (.*), feeds BUSY", rungs.text) == [contacts]
        assert ("relay CR2\n" in rungs.text) == ("S3" in steps)  # nothing else asks for the way home


@pytest.mark.parametrize(
    ("arrangement", "of", "reason"),
    [
        (
            "one-shot",
            _busy("S1", of=chart(out=Elapsed(step="S1", time_us=15 * TICK))),
            "no contact tells the stroke out from the hold, and BUSY must not be on in both",
        ),
        (
            "on-delay",
            _busy("S1", "S2", "S3", of=chart(back=Elapsed(step="S3", time_us=TICK))),
            "no contact tells when the way home is over, and BUSY depends on that",
        ),
        (
            "on-delay",
            chart(out=Elapsed(step="S1", time_us=TICK)),
            "the stroke out ends after a time, so there is no switch to start the dwell timer",
        ),
        (
            "on-delay",
            chart(out=Not(of=Signal(device="LS1"))),
            "the stroke of PLATEN does not end at one switch of its own that stays made through the hold",
        ),
        (
            "one-shot",
            chart(Signal(device="START")),
            "a one-shot starts at the moment of a press; this sequence starts on a condition that lasts",
        ),
        (
            "step-chain",
            chart(both(Rise(device="START"), Rise(device="STOP"))),
            "START and STOP would have to be pressed at the very same moment",
        ),
        (
            "on-delay",
            _with(
                (Transition(name="X", sources=("S1",), targets=("F1",), condition=Elapsed(step="S1", time_us=1)),),
                (Step(name="F1", fault="stuck"),),
            ),
            "it can tell a stroke that takes too long, and no other fault: 'stuck'",
        ),
        ("off-delay", _without("S2"), "there is no dwell to time"),
        ("on-delay", _without("S2"), "there is no dwell to time"),
        ("on-delay", _lit(S0="SOL1"), "SOL1 stays on while the machine rests"),
        ("one-shot", _lit(S1="BUSY", S2="BUSY"), "BUSY does not move a cylinder"),
        (
            "one-shot",
            _lit(S1="", S2="SOL1", S3="SOL1"),
            "it fits one cylinder that extends, holds for a time and retracts; this sequence does something else",
        ),
        (
            "on-delay",
            CHART.model_copy(
                update={
                    "transitions": tuple(
                        t.model_copy(update={"condition": Signal(device="LS1")}) if t.sources == ("S2",) else t
                        for t in CHART.transitions
                    )
                }
            ),
            "the hold does not end after a time",
        ),
    ],
)
def test_what_is_refused_and_why(arrangement: str, of: Chart, reason: str) -> None:
    assert refusal(arrangement, of) == reason


def test_a_memory_valve_needs_the_step_chain() -> None:
    on = machine(kind=ValveKind.MEMORY)
    assert "stays where it was put" in refusal("off-delay", CHART, on)
    assert isinstance(next(iter(TARGET.emit(on, CHART, options=Options(arrangements=("step-chain",))))), Artefact)


def test_a_cylinder_that_rests_extended_needs_the_step_chain() -> None:
    valve = Valve(kind=ValveKind.SPRING_RETURN, retract="SOL1")
    gate = MACHINE.actuators[0].model_copy(update={"valve": valve, "rest": End.END})
    assert refusal("on-delay", CHART, MACHINE.model_copy(update={"actuators": (gate,)})) == "PLATEN rests extended"


def test_a_pressure_switch_may_end_the_stroke() -> None:
    """By hand: 2 s for the slowest stroke, 0.05 s for the pressure to build up, 3 s hold."""
    switch = PressureSwitch(name="PS1", pressure_bar=80)
    ram = MACHINE.actuators[0].model_copy(update={"pressure_switches": (switch,)})
    inputs = (*MACHINE.inputs, Input(name="PS1", kind=InputKind.PRESSURE_SWITCH))
    on = MACHINE.model_copy(update={"actuators": (ram,), "inputs": inputs})
    of = chart(out=Signal(device="PS1")).model_copy(update={"inputs": (*CHART.inputs, "PS1")})
    made = {
        name: next(
            a
            for a in TARGET.emit(on, of, options=Options(anti_repeat=True, arrangements=(name,)))
            if isinstance(a, Artefact)
        )
        for name in DWELLS
    }
    assert Assumption.NO_JAM not in made["on-delay"].announces  # the pressure of a jam starts its hold as well
    for rungs in made.values():  # a cylinder that jams at home leaves it made, and an off-delay then does not start
        proof = prove(chart_logic(of), TARGET.read(rungs.text, rungs.file, on), on)
        assert set(proof.needs) <= announced(rungs.announces)
    assert "timer TR1, one-shot 5.05 s" in made["one-shot"].text


@pytest.mark.parametrize("anti_repeat", [False, True])
@pytest.mark.parametrize("arrangement", NAMES)
def test_what_is_printed(arrangement: str, anti_repeat: bool) -> None:
    rungs, ladder = emitted(arrangement, anti_repeat=anti_repeat)
    reading = read(Source(rungs.file, rungs.text))
    assert reading.diagnostics == ()
    assert write(reading.tree) == rungs.text
    assert rungs.file.startswith("press-")
    assert (rungs.file[-6:], ladder.file[-11:]) == (".rungs", ".ladder.txt")
    assert (rungs.implementation, ladder.implementation) == (True, False)
    for text in (rungs.text, ladder.text):
        assert " ".join(CAUTION.split()) in " ".join(text.replace("# ", "").split())
    lines = rungs.text.split("\n")
    assert rungs.lines
    assert all(lines[number - 1].startswith("rung ") for number in rungs.lines)
    assert set(rungs.lines.values()) <= {*(s.words.text for s in CHART.steps), *(f"words {k}" for k in range(5))}


@pytest.mark.parametrize("arrangement", NAMES)
def test_the_cross_reference_names_every_contact_and_no_other(arrangement: str) -> None:
    rungs, _ = emitted(arrangement, anti_repeat=True)
    told = dict(re.findall(r"# contacts of (\w+): (.*)", rungs.text))
    reading = read(Source(rungs.file, rungs.text)).tree
    for name, places in told.items():
        for form, where in re.findall(r"(N\w+) in rungs? ([^;]*)", places):
            numbers = [int(n) for n in re.findall(r"\d+(?![\d)])", re.sub(r"\(x\d+\)", "", where))]
            words = name if form == "NO" else f"{name} {form}"
            pattern = re.compile(rf"(?<![\w]){words}(?! N)(?!\w)")
            bodies = {r.number: re.search(rf"rung {r.number}: (.*?),? ?feeds", rungs.text) for r in reading.rungs}
            assert numbers == [n for n, body in bodies.items() if body and pattern.search(body.group(1))], (
                name,
                form,
            )


def test_names_the_machine_already_uses_are_passed_over() -> None:
    taken = MACHINE.model_copy(update={"title": "A", "inputs": MACHINE.inputs})
    loads = tuple(load.model_copy(update={"name": {"BUSY": "cr1"}.get(load.name, load.name)}) for load in taken.loads)
    rungs, _ = emitted("on-delay", on=taken.model_copy(update={"loads": loads}))
    assert "relay CR2\n" in rungs.text
    assert "relay CR1\n" not in rungs.text


def test_parts_are_counted_by_hand() -> None:
    """CR1 (seal-in, timer, solenoid) and TR1 NCTO; START, LS2, STOP, LS1."""
    assert emitted("on-delay")[0].parts == (
        ("relays", 1),
        ("timers", 1),
        ("contacts", 4),
        ("switch contact blocks", 4),
    )


def test_a_list_that_was_tampered_with_is_told_and_not_read() -> None:
    rungs, _ = emitted("on-delay")
    with pytest.raises(ReadBack) as told:
        TARGET.read(rungs.text.replace("feeds SOL1", "feeds SOL9"), rungs.file, MACHINE)
    assert {d.code for d in told.value.diagnostics} == {"RW402", "RW417"}
    with pytest.raises(ReadBack) as told:
        TARGET.read(rungs.text, rungs.file, MACHINE.model_copy(update={"loads": ()}))
    assert [d.code for d in told.value.diagnostics] == ["RW425"]


def test_accumulating_chain_of_two_cylinders_moves_a_out_b_out_b_back_a_back() -> None:
    """A+ B+ B- A- by the latch-through chain: YA = K1 and not K4, YB = K2 and not K3 (standard textbook method)."""
    signal = {name: Signal(device=name) for name in ("START", "a0", "a1", "b0", "b1")}
    on = {"S1": ("YA",), "S2": ("YA", "YB"), "S3": ("YA",), "S4": ()}
    names = ("S0", "S1", "S2", "S3", "S4", "S0")
    ends = (both(Rise(device="START"), signal["a0"]), *(signal[name] for name in ("a1", "b1", "b0", "a0")))
    of = Chart(
        inputs=tuple(signal),
        outputs=("YA", "YB"),
        steps=(
            Step(name="S0", initial=True),
            *(Step(name=n, actions=tuple(Action(output=o) for o in outputs)) for n, outputs in on.items()),
        ),
        transitions=tuple(
            Transition(name=f"T{k}", sources=(a,), targets=(b,), condition=c)
            for k, (a, b, c) in enumerate(zip(names, names[1:], ends, strict=False))
        ),
    )
    kinds = {"START": "pushbutton"}
    on_machine = Machine.model_validate(
        {
            "inputs": [{"name": n, "kind": kinds.get(n, "limit switch")} for n in signal],
            "loads": [{"name": n, "kind": "solenoid"} for n in ("YA", "YB")],
        }
    )
    rungs, _ = emitted("step-chain", of, on=on_machine)
    # CR1 seals itself in, breaks AR1, feeds YA and its slave: its four poles. The slave has the rest.
    assert "rung 2: CR1, feeds CR1A" in rungs.text
    assert "rung 8: CR1, CR4 NC, feeds YA" in rungs.text
    assert "rung 9: CR1A, CR2, CR3 NC, feeds YB" in rungs.text
    printed = TARGET.read(rungs.text, rungs.file, on_machine)
    at = {"YA": 0, "YB": 0}
    reaction = printed.power_up((False, True, False, True, False))
    moves: list[str] = []
    for tick in range(200):
        for k, name in enumerate(printed.outputs):
            step = 1 if reaction.outputs[k] else -1
            if 0 <= at[name] + step <= 10:
                at[name] += step
                move = f"{name[1]}{'+' if step > 0 else '-'}"
                moves += [] if moves[-1:] == [move] else [move]
        made = (tick == 3, at["YA"] == 0, at["YA"] == 10, at["YB"] == 0, at["YB"] == 10)
        reaction = printed.react(reaction.state, made)
    assert moves == ["A+", "B+", "B-", "A-"]


@pytest.mark.parametrize("arrangement", NAMES)
def test_the_same_text_every_time(arrangement: str) -> None:
    assert emitted(arrangement) == emitted(arrangement)


def test_or_in_the_trigger_takes_an_anti_repeat_relay_for_each_button() -> None:
    of = chart(both(Or(of=(Rise(device="START"), Rise(device="STOP"))), Signal(device="LS2")))
    of = of.model_copy(update={"forcing": None})
    rungs, _ = emitted("step-chain", of, anti_repeat=True)
    # LS2 is asked for five times, and so IR1 repeats it.
    assert "(START and AR1 and IR1) or (STOP and AR2 and IR1) or CR1" in rungs.text
