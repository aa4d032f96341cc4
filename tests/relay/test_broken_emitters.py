"""Emitters broken on purpose: each fault must show when what was printed runs beside the chart."""

from __future__ import annotations

import pytest

import targets.relay.network
import targets.relay.off_delay
import targets.relay.on_delay
import targets.relay.sheet
import targets.relay.start
import targets.relay.step_chain
from grammar.rungs.tree import Contact, Form, Name, Network
from targets.relay import TARGET
from tests.relay.press import AT_HOME, MACHINE, careful, chart, emitted, first_difference, free

CHART = chart(AT_HOME)
NAMES = ("on-delay", "off-delay", "one-shot", "step-chain")


def caught(arrangement: str) -> bool:
    """Whether some run of a careful operator, whom every sound arrangement satisfies, tells the two apart."""
    rungs, _ = emitted(arrangement, CHART, anti_repeat=True)
    printed = TARGET.read(rungs.text, rungs.file, MACHINE)
    return any(first_difference(CHART, printed, careful(seed)) for seed in range(6))


@pytest.mark.parametrize("arrangement", NAMES)
def test_sound_emitters_are_not_accused(arrangement: str) -> None:
    assert not caught(arrangement)


@pytest.mark.parametrize("arrangement", NAMES)
def test_stop_wired_the_wrong_way_round(arrangement: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(targets.relay.start, "complement", lambda net: net)
    assert caught(arrangement)


@pytest.mark.parametrize("arrangement", NAMES)
def test_a_wrong_preset(arrangement: str, monkeypatch: pytest.MonkeyPatch) -> None:
    right = targets.relay.sheet.seconds
    monkeypatch.setattr(targets.relay.sheet, "seconds", lambda time_us: right(time_us + 100_000))
    assert caught(arrangement)


@pytest.mark.parametrize("module", ["on_delay", "off_delay", "step_chain"])
def test_no_seal_in(module: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(f"targets.relay.{module}.parallel", lambda *parts: parts[0])
    assert caught(module.replace("_", "-"))


@pytest.mark.parametrize("module", ["on_delay", "off_delay"])
def test_a_timed_contact_of_the_wrong_sense(module: str, monkeypatch: pytest.MonkeyPatch) -> None:
    swapped = {Form.NCTO: Form.NOTC, Form.NOTO: Form.NCTC}

    def wrong(name: str, form: Form = Form.NO) -> Network:
        return Contact(Name(name), swapped.get(form, form))

    monkeypatch.setattr(f"targets.relay.{module}.contact", wrong)
    assert caught(module.replace("_", "-"))


def test_normally_open_for_normally_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("off_delay", "step_chain", "start"):
        monkeypatch.setattr(f"targets.relay.{module}.nc", targets.relay.network.contact)
    assert caught("off-delay")
    assert caught("step-chain")


def test_an_anti_repeat_relay_that_forgets_stop(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only a free operator, who holds START while STOP is let go, can tell."""
    real = targets.relay.start.StartBranch.draw

    def forgetful(self, sheet, *, idle, runs, words):  # type: ignore[no-untyped-def]  # as the real one
        real(self, sheet, idle=idle, runs=targets.relay.network.WIRE, words=words)

    monkeypatch.setattr(targets.relay.start.StartBranch, "draw", forgetful)
    rungs, _ = emitted("on-delay", CHART, anti_repeat=True)
    printed = TARGET.read(rungs.text, rungs.file, MACHINE)
    assert not caught("on-delay")
    assert any(first_difference(CHART, printed, free(seed)) for seed in range(30))
