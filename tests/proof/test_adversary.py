"""What was found by attacking the proof, and attacks that it stood: each must stay so."""

from __future__ import annotations

from compiler.proof.prove import prove
from tests.proof.cases import logic, press

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
