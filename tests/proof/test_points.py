"""The points of meaning that an engine easily gets wrong, one test each. Machines and circuits are our own."""

from __future__ import annotations

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic, machine_devices
from compiler.logic import Logic
from compiler.machine import End, LimitSwitch, Machine
from compiler.proof.explore import Ending, Node, explore
from compiler.proof.product import Product
from compiler.proof.prove import _announced_first, prove
from compiler.proof.rods import Drive, Rod
from compiler.proof.situation import Move
from compiler.proof.telling import sentence
from compiler.proof.verdict import Proof, Standing
from compiler.proof.witness import path_of
from compiler.proof.world import WORLDS, Assumed, World
from compiler.proof.zone import Zone, at_most
from compiler.simulation.run import EventKind
from compiler.understand import Understood, understand
from grammar.rungs.read import read
from grammar.source import Source

PRESS = """\
hydraulic cylinder RAM
    stroke 100 mm, extends in 2 s to 3 s, retracts in 2 s to 3 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home, reset travel 2 mm
pushbutton START, normally open
{stop}
lamp DONE
cycle
    when START is pressed
    extend RAM until at-end
    hold 4 s
    retract RAM until at-home
"""
STOP = "pushbutton STOP, normally closed"
SEAL_IN = """\
timer TR1, on-delay 4 s
rung 1: START or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, LS1, feeds TR1
rung 3: CR1, feeds SOL1
"""


def press(stop: str = STOP) -> Understood:
    understood = understand(Source("press", PRESS.format(stop=stop)))
    assert understood.chart is not None, understood.diagnostics
    return understood


def circuit(text: str, machine: Machine) -> Logic:
    reading = read(Source("by hand", text), machine_devices(machine))
    assert reading.sound, reading.diagnostics
    return circuit_logic(reading.tree, machine, name="the circuit")


def proved(understood: Understood, text: str) -> Proof:
    assert understood.chart is not None
    return prove(chart_logic(understood.chart), circuit(text, understood.machine), understood.machine)


def told(node: Node) -> list[str]:
    """The outside events on the way to a node."""
    happenings = [n.move.happening for n in path_of(node)[1:]]
    return [f"{h.device or 'supply'} {'on' if h.on else 'off'}" for h in happenings if h.kind is not None]


def test_a_disagreement_that_lasts_no_time_is_no_difference() -> None:
    """2 s and then 3 s end with 5 s, at one instant; one step of the two takes a reaction longer."""
    machine = press().machine
    chain = "timer TR1, on-delay 2 s\ntimer TR2, on-delay 3 s\nrung 1: START, feeds TR1\n"
    chain += "rung 2: TR1 NOTC, feeds TR2\nrung 3: TR2 NOTC, feeds DONE\n"
    whole = "timer TR1, on-delay 5 s\nrung 1: START, feeds TR1\nrung 2: TR1 NOTC, feeds DONE\n"
    almost = whole.replace("5 s", "5.000001 s")
    assert explore(Product(circuit(chain, machine), circuit(whole, machine), machine), World()).ending is Ending.ALIKE
    assert (
        explore(Product(circuit(chain, machine), circuit(almost, machine), machine), World()).ending is Ending.DIFFERS
    )


def test_events_at_one_instant_come_in_every_order() -> None:
    """STOP may be pressed at the very instant at which the hold ends: before its timer expires, and after."""
    understood = press()
    assert understood.chart is not None
    logic = chart_logic(understood.chart)
    product = Product(logic, None, understood.machine)
    hold = next(k for k, timer in enumerate(logic.timers) if timer.preset_us == 4_000_000)
    before = after = False

    def see(node: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        nonlocal before, after
        if node is None or move.happening.device != "STOP" or not move.happening.on:
            return
        size, clock = node.situation.size, node.situation.clocks.of.get(hold)
        before = before or (clock is not None and readings[clock * size] == at_most(4_000_000))
        just_expired = hold in node.move.happening.expired[0]
        after = after or (just_expired and readings[1] == 1)  # the clock of the way back may still read 0

    assert explore(product, World(), seen=see).ending is Ending.ALIKE
    assert (before, after) == (True, True)


def test_start_pressed_under_stop_starts_a_seal_in_and_no_edge() -> None:
    understood = press()
    assert understood.chart is not None
    proof = proved(understood, SEAL_IN)
    assert (proof.standing, proof.needs) == (Standing.SAME_ONLY_IF, (Assumed.CAREFUL, Assumed.SWITCHES))
    product = Product(chart_logic(understood.chart), circuit(SEAL_IN, understood.machine), understood.machine)
    early = explore(product, World(), leave_out=lambda s, m: bool(s.number == 0 and m.happening.device == "START"))
    assert early.last is not None
    assert told(early.last) == ["STOP on", "START on", "STOP off"]


def test_stop_let_go_with_start_held_is_told_so() -> None:
    run = proved(press(), SEAL_IN).outside[0].run
    assert run is not None
    assert sentence(run, press().machine).startswith("START is still held when STOP is let go at ")


def test_a_reversed_stroke_takes_anything_up_to_its_full_time() -> None:
    actuator = press().machine.actuators[0]
    rod = Rod(actuator, {"LS1": 1, "LS2": 2}, ["SOL1"])
    out, sets_out = rod.turn(rod.at_rest, Drive(1))
    assert sets_out
    assert out.passing is not None
    # The switch at home lets go within its 2 mm of 100, never at once: at most 60 ms and a microsecond.
    assert (out.passing.soonest_us, out.passing.latest_us, out.passing.lets_go) == (0, 60_001, True)
    away = out.passing.place
    assert away.made == 0
    assert away.passing is not None
    assert (away.passing.soonest_us, away.passing.latest_us) == (2_000_000, 3_000_000)
    back, _ = rod.turn(away, Drive(-1))
    assert back.passing is not None
    # It has come 2 mm at least, which take 40 ms back, and may have come all the way.
    assert (back.passing.soonest_us, back.passing.latest_us) == (40_000, 3_000_000)
    assert back.passing.place is rod.at_rest


def test_a_stroke_turned_before_its_switch_lets_go_never_lets_it_go() -> None:
    rod = Rod(press().machine.actuators[0], {"LS1": 1, "LS2": 2}, ["SOL1"])
    out, _ = rod.turn(rod.at_rest, Drive(1))
    back, _ = rod.turn(out, Drive(-1))
    assert (out.made, back.made) == (2, 2)
    assert back.passing is not None
    assert back.passing.place is rod.at_rest


def test_a_timer_whose_input_goes_the_instant_it_expires_may_or_may_not_have_operated() -> None:
    """Both orders are met, so a lamp that only the one order lights tells a plain timer from one that must hold."""
    machine = press().machine
    seals = "timer TR1, on-delay 2 s\nrung 1: START, feeds TR1\n"
    seals += "rung 2: TR1 NOTC or CR1, STOP NC, feeds CR1\nrung 3: CR1, feeds DONE\n"
    longer = seals.replace("on-delay 2 s", "on-delay 2.000001 s")
    assert explore(Product(circuit(seals, machine), circuit(seals, machine), machine), World()).ending is Ending.ALIKE
    found = explore(Product(circuit(seals, machine), circuit(longer, machine), machine), World())
    assert found.ending is Ending.DIFFERS
    assert found.last is not None
    # START, then the timer: in the microsecond between the two presets the lamp is on in one only.
    assert told(found.last) == ["START on"]


def test_level_and_edge_part_as_the_supply_returns() -> None:
    """Without STOP the shortest way to tell them apart is the supply: START is held as it comes back."""
    understood = press(stop="")
    assert understood.chart is not None
    text = SEAL_IN.replace(" STOP NC,", "")
    product = Product(chart_logic(understood.chart), circuit(text, understood.machine), understood.machine)
    found = explore(product, World())
    assert found.last is not None
    assert told(found.last) == ["supply off", "START on", "supply on"] or told(found.last) == [
        "START on",
        "supply off",
        "supply on",
    ]
    assert explore(product, World(careful=True)).ending is Ending.ALIKE


def test_every_difference_is_replayed_and_is_the_shortest() -> None:
    understood = press()
    proof = proved(understood, SEAL_IN.replace("on-delay 4 s", "on-delay 3 s"))
    assert proof.standing is Standing.DIFFERS
    run = proof.outside[0].run
    assert run is not None
    assert run.difference is not None
    assert run.difference.output == "SOL1"
    # One press is enough: the hold ends a second early.
    assert [e.device for e in run.scenario.events if e.on and e.kind is EventKind.INPUT] == ["START"]


def test_the_published_order_goes_from_weak_to_strong() -> None:
    assert WORLDS[0] == World(failing=True)
    sizes = [len(world.assumed) for world in WORLDS]
    assert sizes == sorted(sizes)
    assert len(set(WORLDS)) == len(WORLDS) == 48
    assert WORLDS[1:3] == (World(apart=True, failing=True), World(careful=True, failing=True))
    assert set(WORLDS[-1].assumed) == set(Assumed) - {Assumed.APART}


def test_a_search_that_is_given_up_is_never_called_the_same() -> None:
    understood = press()
    assert understood.chart is not None
    logic = chart_logic(understood.chart)
    explored = explore(Product(logic, logic, understood.machine), World(), most=10)
    assert explored.ending is Ending.NOT_SETTLED
    proof = prove(logic, circuit(SEAL_IN, understood.machine), understood.machine, most_zones=10)
    assert proof.standing is Standing.DIFFERS  # a run at random shows it; what holds of less is left open
    assert "not settled" in proof.headline


def test_a_switch_that_sticks_is_one_failure_and_stays() -> None:
    """The hold timed from the start would do as well, were it not for LS1: stuck open, only the sequence waits."""
    understood = press()
    assert understood.chart is not None
    product = Product(chart_logic(understood.chart), circuit(SEAL_IN, understood.machine), understood.machine)
    assert explore(product, World(careful=True)).ending is Ending.ALIKE
    found = explore(product, World(careful=True, failing=True))
    assert found.last is not None
    failures = [n.move.happening for n in path_of(found.last) if n.move.happening.kind in STICKS]
    assert len(failures) == 1
    assert found.last.situation.stuck[0] != 0
    assert not any(place.jammed for place in found.last.situation.places)


STICKS = (EventKind.STUCK_MADE, EventKind.STUCK_OPEN)


def test_a_careful_operator_does_press_where_only_a_load_or_a_count_shows_it() -> None:
    """Neither a load fed by START itself nor a counter on its way lights anything, and still the press begins it."""
    machine = press().machine
    jog, dead = "rung 1: START, STOP NC, feeds SOL1\n", "rung 1: START, START NC, feeds SOL1\n"
    assert prove(circuit(jog, machine), circuit(dead, machine), machine).standing is Standing.DIFFERS
    three = "counter CT1, preset 3\nrung 1: START, feeds CT1 count\nrung 2: STOP, feeds CT1 reset\n"
    three += "rung 3: CT1, feeds DONE\n"
    four = three.replace("preset 3", "preset 4")
    assert prove(circuit(three, machine), circuit(four, machine), machine).standing is Standing.DIFFERS


def test_what_makes_and_what_lets_go_at_one_place_do_so_one_after_the_other() -> None:
    """Going out, LS5 makes at 50 mm and LS6, made from home to 30 mm, has its reset travel up to 50 mm."""
    understood = press()
    actuator = understood.machine.actuators[0]
    switches = (
        LimitSwitch(name="LS5", at_um=50_000, reset_um=1_000, toward=End.END),
        LimitSwitch(name="LS6", at_um=30_000, reset_um=20_000, toward=End.HOME),
    )
    rod = Rod(actuator.model_copy(update={"limit_switches": switches}), {"LS5": 1, "LS6": 2}, ["SOL1"])
    out, _ = rod.turn(rod.at_rest, Drive(1))
    made = [out.made]
    while out.passing is not None:
        out = out.passing.place
        made.append(out.made)
    assert made == [2, 3, 1, 1]


def test_a_careful_operator_who_never_finds_it_ready_proves_nothing() -> None:
    """What begins it is PART made with START down already, never a press of START: the careful worlds are empty."""
    text = PRESS.format(stop=STOP).replace("lamp DONE\n", "lamp DONE\npushbutton PART\n")
    text = text.replace("when START is pressed", "when START is held and PART is pressed")
    understood = understand(Source("both", text))
    assert understood.chart is not None, understood.diagnostics
    dead = "rung 1: START, START NC, feeds SOL1\n"
    machine = understood.machine.model_copy(update={"start": "START"})
    proof = prove(chart_logic(understood.chart), circuit(dead, machine), machine)
    assert proof.standing is Standing.DIFFERS


def test_worlds_that_assume_only_what_is_announced_come_first() -> None:
    announced = {Assumed.SWITCHES, Assumed.NO_JAM}
    first = _announced_first(WORLDS, announced)
    assert sorted(first, key=WORLDS.index) == list(WORLDS)
    assert (first[0], first[-1]) == (WORLDS[0], WORLDS[-1])
    assert [set(world.assumed) for world in first[:4]] == [
        set(),
        {Assumed.NO_JAM},
        {Assumed.SWITCHES},
        {Assumed.NO_JAM, Assumed.SWITCHES},
    ]
    assert list(first[4:]) == [world for world in WORLDS if world not in first[:4]]
