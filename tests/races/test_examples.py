"""The rungs of every shipped example, in an open world: any input may change at any time, machine or no machine."""

from __future__ import annotations

from functools import cache

import pytest

from compiler.circuit import circuit_logic
from compiler.machine import Machine
from compiler.races import RaceKind, Races, RelayTimes, open_world, races
from grammar.rungs import read
from grammar.rungs.tree import Circuit, Kind
from grammar.source import Source
from targets.build import emit_all
from targets.target import Options
from tests.whole.programs import EXAMPLES, example

_MOST = 600
_USUAL = RelayTimes(pick_up=(5_000, 15_000), drop_out=(3_000, 10_000), middle=2_000)


@cache
def _emitted(stem: str, *, anti_repeat: bool) -> dict[str, Circuit]:
    # Relays with poles enough: of two in parallel each moves when it likes, in more orders than can be tried.
    made, _ = emit_all(example(stem), Options(anti_repeat=anti_repeat, poles=99))
    texts = {a.file: a.text for a in made if a.file.endswith(".rungs")}
    return {file: read(Source(file, text)).tree for file, text in texts.items()}


def _looked_at(tree: Circuit, machine: Machine, times: RelayTimes | None = None) -> Races:
    names = [device.name.text for device in tree.devices]
    world = open_world(circuit_logic(tree, machine), limit=_MOST)
    return races(tree, machine, world.stimuli, times=dict.fromkeys(names, times) if times else None)


@pytest.mark.parametrize("anti_repeat", [False, True], ids=["plain", "anti-repeat"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_arrangement_is_looked_at_to_the_end(path, anti_repeat: bool) -> None:  # type: ignore[no-untyped-def]
    for file, tree in _emitted(path.stem, anti_repeat=anti_repeat).items():
        found = _looked_at(tree, example(path.stem).machine)
        assert found.settled, (file, found.why)
        assert found.stimuli > 0
        assert found.orders >= found.stimuli
        assert all(race.lines for race in found.found)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_one_relay_and_a_timer_have_nothing_to_race(path) -> None:  # type: ignore[no-untyped-def]
    """Where a plain dwell circuit moves its one relay, its timer follows; nothing waits for both."""
    for file, tree in _emitted(path.stem, anti_repeat=False).items():
        relays = [device for device in tree.devices if device.kind is Kind.RELAY]
        if ("dwell" in file or "one-shot" in file) and len(relays) <= 1:
            assert _looked_at(tree, example(path.stem).machine).free, file


@pytest.mark.parametrize("arrangement", ["on-delay", "off-delay", "one-shot"])
def test_relays_of_usual_times_hold_a_fault_in_before_it_drops_the_cycle_out(arrangement: str) -> None:
    """With relays of any times at all a fault may lose its own coil before its contact seals."""
    (tree,) = (t for file, t in _emitted("hide-embossing", anti_repeat=True).items() if f"-{arrangement}-" in file)
    machine = example("hide-embossing").machine
    lost = {f"{relay} falls back" for relay in ("FR1", "FR2")}
    assert any(lost.intersection(race.orders[1]) for race in _looked_at(tree, machine).found)
    assert _looked_at(tree, machine, _USUAL).free


def test_the_anti_repeat_relay_is_let_go_by_the_relay_it_starts() -> None:
    """Worked out by hand: CR1's NC contact opens before its NO contact seals, and AR1 hangs on the former. Relays of
    usual times always seal first."""
    machine = example("bung-press").machine
    for file, tree in _emitted("bung-press", anti_repeat=True).items():
        if "one-shot" in file or "one-hot" in file:  # no AR in one, a relay at rest between AR and CR2 in the other
            continue
        pressed = [race for race in _looked_at(tree, machine).found if race.happens == "START is pressed"]
        assert pressed, file
        assert all(race.kind is RaceKind.CRITICAL for race in pressed)
        assert "AR1 drops out" in pressed[0].orders[1]
        assert "CR1 falls back" in pressed[0].orders[1]
        usual = _looked_at(tree, machine, _USUAL)
        assert usual.settled
        assert [race for race in usual.found if race.happens == "START is pressed"] == []
