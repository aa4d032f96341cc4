"""What was found by attacking the proof, and attacks that it stood: each must stay so."""

from __future__ import annotations

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.machine import End, Input, InputKind, PressureSwitch
from compiler.proof.explore import Ending, explore
from compiler.proof.product import Product
from compiler.proof.prove import prove
from compiler.proof.world import World
from compiler.simulation.run import Event, EventKind, Scenario, Swiftness, stroke_times
from compiler.simulation.simulate import simulate
from tests.proof.cases import TICK, UNIT, arranged, logic, press
from tests.proof.rules import rules_of
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt
from tests.proof.ticks import explore_ticks

PRESS = press()


def test_a_driver_that_does_not_settle_as_the_supply_comes_on_is_told() -> None:
    """A relay through its own NC contact buzzes from the first moment: nothing can be compared, and it says why."""
    buzzer = logic(PRESS, {}, "CR1 NC, feeds CR1", "START, feeds LAMP")
    proof = prove(buzzer, logic(PRESS, {}, "STOP, feeds LAMP"), PRESS)
    assert proof.chatters == ("CR1",)


def test_nor_one_that_does_not_settle_as_the_supply_returns() -> None:
    """Only with START held as the supply comes on: at no later event does the driver see START without CR2."""
    buzzer = logic(PRESS, {}, "START NC or CR2, feeds CR2", "CR2 NC, CR1 NC, feeds CR1", "CR2, START, feeds LAMP")
    proof = prove(buzzer, buzzer, PRESS)
    assert proof.chatters == ("CR1",)


def test_a_press_that_catches_a_switch_before_it_goes_is_shown() -> None:
    """The press must come while PS1 is still made from the stroke before, 10 ms at most: not in the very microsecond
    in which it goes, for then the simulator lets both happen together and sees no difference."""
    of = next(s for s in SEQUENCES if s.name == "pressure ends it")
    drawn = arranged("on-delay", of.chart, of.machine, anti_repeat=True)
    changes = spoilt(drawn, preset_by_us=UNIT)
    other = next(c for kind, what, c in changes if kind == "shorted" and what.startswith("CR1 NO in rung 2"))
    proof = prove(chart_logic(of.chart), circuit_logic(other, of.machine), of.machine)
    assert proof.outside
    assert all(outside.run is not None for outside in proof.outside)


def test_a_rod_that_touches_its_end_makes_its_pressure_switch_wait_anew() -> None:
    """LS2 sends the ram out as often as it comes home, and home as often as it lets go: each time sooner than the 10
    ms in which PS1, pressed at home, lets go. So PS1 is still made when a time of 20 ms is over: LAMP comes on."""
    machine = press(least=2, greatest=2)
    home = PressureSwitch(name="PS1", pressure_bar=80, build_up_us=UNIT, toward=End.HOME)
    ram = machine.actuators[0].model_copy(update={"pressure_switches": (home,)})
    inputs = (*machine.inputs, Input(name="PS1", kind=InputKind.PRESSURE_SWITCH))
    machine = machine.model_copy(update={"actuators": (ram,), "inputs": inputs})
    both = ("START or CR1, feeds CR1", "START or LS2, CR1, feeds SOL1", "CR1, feeds TR1")
    lit = logic(machine, {"TR1": "on-delay 2"}, *both, "TR1 NOTC, PS1, feeds LAMP")
    dark = logic(machine, {"TR1": "on-delay 2"}, *both, "PS1, PS1 NC, feeds LAMP")
    tap = [Event(at_us=at_us, kind=EventKind.INPUT, device="START", on=at_us == 1000) for at_us in (1000, 1100)]
    strokes = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
    scenario = Scenario(name="a tap", duration_us=100_000, events=tuple(tap), strokes=strokes)
    run = simulate(machine, lit, scenario, shadow=dark)
    assert run.difference is not None
    assert run.difference.at_us == 1000 + 2 * UNIT
    calm = World(no_jam=True)
    explored = explore(Product(lit, dark, machine), calm)
    ticked = explore_ticks(lit, dark, machine, rules_of(calm), tick_us=TICK)
    assert (explored.ending is Ending.DIFFERS, ticked.differs) == (True, True)
    assert explored.last is not None
    assert explored.last.depth == ticked.events
