"""A press to try arrangements on: one cylinder that goes out, holds and comes back, in whole ticks.

The plant is this file's own and as plain as can be, so that it shares nothing with the one in compiler/.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from compiler.chart import Action, Chart, Forcing, Step, Transition, Words
from compiler.chart_logic import chart_logic
from compiler.condition import Condition, Elapsed, Rise, Signal, both
from compiler.logic import Logic
from compiler.machine import (
    Actuator,
    End,
    Input,
    InputKind,
    LimitSwitch,
    Load,
    LoadKind,
    Machine,
    Medium,
    Travel,
    TravelBasis,
    Valve,
    ValveKind,
)
from targets.relay import TARGET
from targets.target import Artefact, Options
from tests.relay.clock import Player

__all__ = [
    "AT_HOME",
    "CHART",
    "MACHINE",
    "TICK",
    "TRAVEL",
    "careful",
    "chart",
    "emitted",
    "first_difference",
    "free",
    "machine",
]

TICK = 100_000  # microseconds
TRAVEL = 20  # ticks for a full stroke, at the slowest
HOLD = 30


def _travel(least: int = TRAVEL // 2) -> Travel:
    most = TRAVEL * TICK
    return Travel(least_us=least * TICK, usual_us=most, greatest_us=most, basis=TravelBasis.STATED)


def machine(*, least: int = TRAVEL // 2, kind: ValveKind = ValveKind.SPRING_RETURN) -> Machine:
    """The press; ``least`` is its quickest stroke, in ticks."""
    switches = (
        LimitSwitch(name="LS1", at_um=250_000, reset_um=1_000, toward=End.END),
        LimitSwitch(name="LS2", at_um=0, reset_um=1_000, toward=End.HOME),
    )
    platen = Actuator(
        name="PLATEN",
        medium=Medium.HYDRAULIC,
        stroke_um=250_000,
        valve=Valve(kind=kind, extend="SOL1", retract="SOL2" if kind is ValveKind.MEMORY else None),
        extend_time=_travel(least),
        retract_time=_travel(least),
        limit_switches=switches,
    )
    inputs = (
        Input(name="START", kind=InputKind.PUSHBUTTON),
        Input(name="STOP", kind=InputKind.PUSHBUTTON),
        Input(name="LS1", kind=InputKind.LIMIT_SWITCH),
        Input(name="LS2", kind=InputKind.LIMIT_SWITCH),
    )
    loads = (Load(name="SOL1", kind=LoadKind.SOLENOID), Load(name="BUSY", kind=LoadKind.LAMP))
    return Machine(title="Press", actuators=(platen,), inputs=inputs, loads=loads, start="START", stop="STOP")


MACHINE = machine()
AT_HOME = both(Rise(device="START"), Signal(device="LS2"))


def chart(
    trigger: Condition = AT_HOME, *, hold: int = HOLD, out: Condition | None = None, back: Condition | None = None
) -> Chart:
    """Extend, hold, retract; ``hold`` in ticks, ``out`` and ``back`` what ends the strokes."""
    on = (Action(output="SOL1"),)
    steps = (
        Step(name="S0", initial=True),
        Step(name="S1", actions=on, words=Words(text="extend until at-end")),
        Step(name="S2", actions=on, words=Words(text="hold 3 s")),
        Step(name="S3", words=Words(text="retract")),
    )
    conditions = (
        trigger,
        out or Signal(device="LS1"),
        Elapsed(step="S2", time_us=hold * TICK),
        back or Signal(device="LS2"),
    )
    ways = (("S0", "S1"), ("S1", "S2"), ("S2", "S3"), ("S3", "S0"))
    return Chart(
        inputs=("START", "STOP", "LS1", "LS2"),
        outputs=("SOL1", "BUSY"),
        steps=steps,
        transitions=tuple(
            Transition(name=f"T{k}", sources=(a,), targets=(b,), condition=c, words=Words(text=f"words {k}"))
            for k, ((a, b), c) in enumerate(zip(ways, conditions, strict=True), start=1)
        ),
        forcing=Forcing(condition=Signal(device="STOP")),
    )


CHART = chart()


def emitted(
    arrangement: str, of: Chart = CHART, *, anti_repeat: bool = False, on: Machine = MACHINE
) -> tuple[Artefact, Artefact]:
    """The rung list and the ladder of one arrangement, which must fit."""
    options = Options(anti_repeat=anti_repeat, arrangements=(arrangement,))
    rungs, ladder = TARGET.emit(on, of, options=options)
    assert isinstance(rungs, Artefact)
    assert isinstance(ladder, Artefact)
    return rungs, ladder


@dataclass
class Plant:
    """Position in twentieths of a stroke: one up a tick while the solenoid is on, one down while it is off."""

    at: int = 0
    speed: int = 1

    def move(self, on: bool) -> None:
        self.at = max(0, min(TRAVEL, self.at + (self.speed if on else -self.speed)))


Presses = Callable[[Plant, Player], Iterator[tuple[bool, bool]]]


def careful(seed: int) -> Presses:
    """A careful operator: START and STOP tick by tick, START only at rest at home, never both together."""
    rng = random.Random(seed)
    deeds: list[tuple[str, int]] = []
    for _ in range(12):
        deeds += [("wait", rng.randint(1, 20)), ("start", rng.randint(1, 4)), ("wait", rng.randint(1, 90))]
        if rng.random() < 0.5:
            deeds.append(("stop", rng.randint(1, 5)))

    def presses(plant: Plant, driver: Player) -> Iterator[tuple[bool, bool]]:
        for deed, ticks in deeds:
            patience = 200 if deed == "start" else 0
            while patience and not (plant.at == 0 and driver.logic.lit(driver.state) == ("S0",)):
                patience -= 1
                yield False, False
            for _ in range(ticks):
                yield deed == "start", deed == "stop"

    return presses


def free(seed: int) -> Presses:
    """A free operator: both buttons pressed, held and let go at any time.

    At any time but one: not START at the very tick the press arrives home. The dwell arrangements take that press
    for one at home, the chart for one too soon; their notes say so.
    """
    rng = random.Random(seed)

    def presses(plant: Plant, driver: Player) -> Iterator[tuple[bool, bool]]:
        start = stop = False
        for _ in range(1500):
            start ^= rng.random() < 0.06 and plant.at != 1
            stop ^= rng.random() < (0.3 if stop else 0.01)
            yield start, stop

    return presses


def first_difference(of: Chart, printed: Logic, presses: Presses, *, speed: int = 1) -> str | None:
    """Let the chart drive the press and ``printed`` go along: what differs first, in words, or None."""
    plant = Plant(speed=speed)
    players = [Player(chart_logic(of)), Player(printed)]
    inputs = (False, False, False, True)
    for player in players:
        player.power_up(inputs, 0)
    for tick, (start, stop) in enumerate(presses(plant, players[0]), start=1):
        plant.move(bool(players[0].outputs[0]))
        inputs = (start, stop, plant.at == TRAVEL, plant.at == 0)
        for player in players:
            player.react(inputs, tick * TICK)
        if players[0].outputs != players[1].outputs:
            return f"tick {tick}, {inputs}: {players[0].outputs} but {players[1].outputs}"
    return None
