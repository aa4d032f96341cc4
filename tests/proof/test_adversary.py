"""What was found by attacking the proof, and attacks that it stood: each must stay so."""

from __future__ import annotations

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.proof.prove import prove
from tests.proof.cases import UNIT, arranged, logic, press
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt

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
    assert [outside.run is not None for outside in proof.outside] == [True]
