"""Every feature of the language in every target: it works, or it is refused with a reason, and never passed over.

The programs are those of the language reference, which show every form there is (``tests/sequence/test_reference``).
What works is read back from its own text, and does in a cycle what was written.
"""

from __future__ import annotations

import re

import pytest

from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import usual_cycle
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.simulation.run import Event, EventKind, Outcome, Role
from compiler.simulation.simulate import simulate
from compiler.understand import understand
from grammar.source import Source
from targets.build import emit_all
from targets.relay.emit import ARRANGEMENTS
from targets.target import Artefact, Options, Refusal, find_targets
from tests.sequence.test_reference import programs
from tests.whole.programs import example

_RELAY = "relay"
_DRAWN = {"grafcet"}  # a drawing, which nothing reads back


@pytest.mark.parametrize("number", range(len(programs())))
def test_every_cell_works_or_is_refused_with_a_reason(number: int) -> None:
    what = understand(Source("<README>", programs()[number]))
    assert what.chart is not None
    cycle = usual_cycle(what.machine, what.chart)
    for target in find_targets():
        cells = [Options(arrangements=(a.key,)) for a in ARRANGEMENTS] if target.name == _RELAY else [Options()]
        for options in cells:
            outcomes = list(target.emit(what.machine, what.chart, options=options))
            assert outcomes, f"{target.name} {options.arrangements} says nothing"
            refused = [outcome for outcome in outcomes if isinstance(outcome, Refusal)]
            made = [outcome for outcome in outcomes if isinstance(outcome, Artefact)]
            assert bool(made) is not bool(refused)
            assert all(len(refusal.reason.split()) > 2 for refusal in refused)
            working = [artefact for artefact in made if artefact.implementation]
            assert working or refused or target.name in _DRAWN
            for artefact in working:
                read = target.read(artefact.text, artefact.file, what.machine)
                run = simulate(what.machine, chart_logic(what.chart), cycle, shadow=read)
                assert run.outcome is Outcome.COMPLETED, (artefact.name, run.difference)


GUARDED = """\
pneumatic cylinder PUSHER
    stroke 100 mm
    extends in 1 s, retracts in 1 s
    {valve}
    limit switch LS1 at end, LS2 at home
sensor GUARD
pushbutton STOP, normally closed
pushbutton START
home when PUSHER is at-home
cycle
    when START is pressed
    extend PUSHER
    retract PUSHER

{output} only while GUARD is made
"""


@pytest.mark.parametrize(
    ("valve", "output"),
    [
        ("single solenoid valve SOL1, spring return", "SOL1"),
        ("double solenoid valve SOL1 extends, SOL2 retracts", "PUSHER"),
    ],
)
def test_an_interlock_is_enforced_or_the_target_refuses_it(valve: str, output: str) -> None:
    """The guard opens in mid-stroke: the solenoid goes off, in whatever is printed."""
    what = understand(Source("guarded", GUARDED.format(valve=valve, output=output)))
    assert what.chart is not None
    cycle = usual_cycle(what.machine, what.chart)
    start = next(event.at_us for event in cycle.events if event.device == "START" and event.on)
    shut = Event(at_us=0, kind=EventKind.INPUT, device="GUARD", on=True)
    opened = Event(at_us=start + 500_000, kind=EventKind.INPUT, device="GUARD", on=False)
    pressed = [event for event in cycle.events if event.device == "START"]
    events = tuple(sorted((shut, *pressed, opened), key=lambda event: event.at_us))
    scenario = cycle.model_copy(update={"events": events})
    enforced = []
    for target in find_targets():
        for outcome in target.emit(what.machine, what.chart, options=Options()):
            if isinstance(outcome, Artefact) and outcome.implementation:
                logic = target.read(outcome.text, outcome.file, what.machine)
                run = simulate(what.machine, logic, scenario)
                off = [c.at_us for c in run.changes if c.signal == "SOL1" and c.role is Role.OUTPUT and not c.on]
                assert off[:1] == [opened.at_us], outcome.name
                enforced.append(outcome.name)
    assert {"one-hot chain rungs", "structured text", "SFC", "chart (JSON)"} <= set(enforced)


@pytest.mark.parametrize(
    ("added", "reason"),
    [
        ("SOL1 only while GUARD is made\n", "it has interlocks"),
        ("when STOP is pressed, finish the stroke\n", "it remembers a press"),
        (
            "lamp LIT\ncycle of B\n    when GUARD is made\n    turn on LIT, hold 1 s\n    turn off LIT\n",
            "it has several stations",
        ),
    ],
)
def test_a_refusal_names_what_stands_in_the_way(added: str, reason: str) -> None:
    words = GUARDED.format(valve="single solenoid valve SOL1, spring return", output="SOL1")
    words = words.replace("SOL1 only while GUARD is made\n", added).replace("cycle\n", "cycle of A\n")
    what = understand(Source("refused", words if "cycle of B" in added else words.replace("cycle of A", "cycle")))
    assert what.chart is not None, what.diagnostics
    options = Options(arrangements=("cascade", "step-counter", "on-delay"))
    relay = next(target for target in find_targets() if target.name == _RELAY)
    refusals = list(relay.emit(what.machine, what.chart, options=options))
    assert len(refusals) == 3
    for refusal in refusals:
        assert isinstance(refusal, Refusal)
        assert refusal.reason.startswith(reason)


WAITING = """\
pneumatic cylinder RAM
    stroke 80 mm
    extends in 1 s, retracts in 1 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton ACK
pushbutton START
pushbutton STOP, normally closed
cycle
    when START is pressed
    extend RAM
    wait until ACK is pressed
    retract RAM
when STOP is pressed, finish the stroke
"""


def test_a_stop_breaks_off_a_wait_for_somebody_in_every_target() -> None:
    """Proved the same; and in a run the rod, out and waiting, goes home the moment STOP is pressed."""
    what = understand(Source("waiting", WAITING))
    assert what.chart is not None
    presses = [
        Event(at_us=at_us, kind=EventKind.INPUT, device=device, on=on)
        for device, down_us in (("START", 1_000_000), ("STOP", 5_000_000))
        for at_us, on in ((down_us, True), (down_us + 200_000, False))
    ]
    cycle = usual_cycle(what.machine, what.chart)
    scenario = cycle.model_copy(update={"events": tuple(presses), "duration_us": 9_000_000})
    proved = []
    for target in find_targets():
        for outcome in target.emit(what.machine, what.chart, options=Options()):
            if isinstance(outcome, Artefact) and outcome.implementation:
                logic = target.read(outcome.text, outcome.file, what.machine)
                run = simulate(what.machine, logic, scenario)
                off = [c.at_us for c in run.changes if c.signal == "SOL1" and c.role is Role.OUTPUT and not c.on]
                assert off == [5_000_000], outcome.name
                assert prove(chart_logic(what.chart), logic, what.machine).standing is Standing.SAME, outcome.name
                proved.append(outcome.name)
    assert {"one-hot chain rungs", "structured text", "SFC", "chart (JSON)"} <= set(proved)


@pytest.mark.parametrize(
    ("stem", "listed", "drawn"),
    [
        (
            "tag-punch",
            "When STOP is pressed, the chart goes to H1",
            "when STOP is pressed, the chart is forced to {H1}",
        ),
        (
            "bung-press",
            "While STOP is held, the chart is held in its initial",
            "while STOP is held, the chart is forced",
        ),
    ],
)
def test_papers_of_the_chart_tell_a_moment_from_a_state(stem: str, listed: str, drawn: str) -> None:
    made, _ = emit_all(example(stem), Options())
    texts = {a.file.partition(".")[2]: " ".join(re.sub(r"<[^>]*>", " ", a.text).split()) for a in made}
    assert listed in texts["chart.txt"]
    assert drawn in texts["grafcet.svg"]
