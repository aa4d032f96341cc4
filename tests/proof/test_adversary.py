"""What was found by attacking the proof, and attacks that it stood: each must stay so."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.machine import (
    Actuator,
    Centre,
    End,
    Input,
    InputKind,
    LimitSwitch,
    Load,
    LoadKind,
    Machine,
    Medium,
    PressureSwitch,
    Rapid,
    RapidKind,
    Travel,
    TravelBasis,
    Valve,
    ValveKind,
)
from compiler.proof.explore import Ending, explore
from compiler.proof.product import Product
from compiler.proof.prove import prove
from compiler.proof.situation import Situation
from compiler.proof.world import World
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Event, EventKind, Scenario, StrokeTimes, Swiftness, stroke_times
from compiler.simulation.simulate import simulate
from tests.proof.cases import TICK, UNIT, arranged, logic, press, random_circuit
from tests.proof.rules import rules_of
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt
from tests.proof.ticks import explore_ticks

PRESS = press()
_STROKE = 7_000


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


# --- every simulated run is one that the search looks at ---------------------------------------------------------
#
# Random circuits drive machines of many kinds: several cylinders, valves of every kind, quick strokes, rods that
# rest extended, switches anywhere, pressure switches both ways, strokes of microseconds to seconds. At every
# instant of a run some order of the product's events must lead to the inputs, loads and movements that the
# simulator has, and to nothing overdue. Where the simulator lets several things happen together, which the product
# takes one after another, following ends.


def _machine(rng: random.Random) -> Machine:
    unit = rng.choice((1, 10, 1000, 10_000))
    actuators = tuple(_actuator(rng, k, unit) for k in range(rng.randint(1, 3)))
    inputs = [Input(name=name, kind=InputKind.PUSHBUTTON) for name in ("START", "STOP")]
    for actuator in actuators:
        inputs += [Input(name=s.name, kind=InputKind.LIMIT_SWITCH) for s in actuator.limit_switches]
        inputs += [Input(name=s.name, kind=InputKind.PRESSURE_SWITCH) for s in actuator.pressure_switches]
    solenoids = [name for a in actuators for name in a.valve.solenoids]
    loads = tuple(Load(name=name, kind=LoadKind.SOLENOID) for name in solenoids)
    return Machine(actuators=actuators, inputs=tuple(inputs), loads=loads, start="START", stop="STOP")


def _actuator(rng: random.Random, k: int, unit: int) -> Actuator:
    rest = rng.choice((End.HOME, End.HOME, End.END))
    kind = rng.choice(list(ValveKind))
    extend = None if kind is ValveKind.SPRING_RETURN and rest is End.END else f"OUT{k}"
    retract = f"BACK{k}" if kind is not ValveKind.SPRING_RETURN or extend is None else None
    centre = rng.choice(list(Centre)) if kind is ValveKind.THREE_POSITION else None
    rapid = Rapid(kind=rng.choice(list(RapidKind)), solenoid=f"FAST{k}", time=_travel(rng, unit))
    pressed = PressureSwitch(
        name=f"PS{k}",
        pressure_bar=80,
        toward=rng.choice(list(End)),
        build_up_us=rng.choice((1, 9, 10_000, 30 * unit)),
    )
    return Actuator(
        name=f"CYL{k}",
        medium=Medium.PNEUMATIC,
        stroke_um=_STROKE,
        rest=rest,
        single_acting=retract is None and rng.random() < 0.3,
        valve=Valve(
            kind=kind, extend=extend, retract=retract, centre=centre, rapid=rapid if rng.random() < 0.3 else None
        ),
        extend_time=_travel(rng, unit),
        retract_time=_travel(rng, unit),
        limit_switches=tuple(_switches(rng, k)),
        pressure_switches=(pressed,) if rng.random() < 0.4 else (),
    )


def _travel(rng: random.Random, unit: int) -> Travel:
    least = rng.randint(20, 60) * unit  # never two places on the way in one microsecond
    greatest = least + rng.choice((0, rng.randint(1, 60) * unit))
    return Travel(least_us=least, usual_us=least, greatest_us=greatest, basis=TravelBasis.STATED)


def _switches(rng: random.Random, k: int) -> Iterator[LimitSwitch]:
    """Up to four, some at one place, where one may let go as another makes."""
    for j in range(rng.randint(0, 4)):
        at_um = rng.choice((0, _STROKE, _STROKE // 2, _STROKE // 3))
        toward = End.HOME if at_um == 0 else End.END if at_um == _STROKE else rng.choice(list(End))
        reset_um = rng.choice((1, _STROKE // 5, _STROKE // 2))
        yield LimitSwitch(name=f"LS{k}{j}", at_um=at_um, reset_um=reset_um, toward=toward)


@dataclass(frozen=True)
class _At:
    """A situation of the product, and when each of its clocks began."""

    situation: Situation
    births: tuple[int, ...]

    def overdue(self, now_us: int, *, by_us: int) -> bool:
        return any(now_us - self.births[clock - 1] > limit - by_us for clock, limit in self.situation.limits)


class _Followed:
    """The situations of a product that a simulated run may be in."""

    def __init__(self, product: Product, bench: Bench, *, exact: bool) -> None:
        self.product, self.bench, self.exact = product, bench, exact
        first = product.first().target
        self.ats = {_At(first, (0,) * (first.size - 1))}

    def go_on(self, events: tuple[Event, ...]) -> bool:
        """Whether the instant that the bench has come to is one of the product's."""
        now_us = self.bench.now_us
        there = [at for at in self.ats if not at.overdue(now_us, by_us=0)]
        waiting = [(at, frozenset(events)) for at in there]
        seen = set(waiting)
        self.ats = set()
        while waiting:
            at, left = waiting.pop()
            if not left and self._agrees(at) and not at.overdue(now_us, by_us=1):
                self.ats.add(at)
            for step in self._steps(at, left, now_us):
                if step not in seen and len(seen) < 2000:
                    seen.add(step)
                    waiting.append(step)
        return bool(self.ats)

    def _steps(self, at: _At, left: frozenset[Event], now_us: int) -> Iterator[tuple[_At, frozenset[Event]]]:
        """What may happen in a situation at this very instant."""
        found = [(move, left) for move in self.product.moves(at.situation) if move.happening.kind is None]
        for event in left:
            done = (event.kind, event.device, event.on)
            for move in self.product.moves(at.situation):
                if (move.happening.kind, move.happening.device, move.happening.on) == done:
                    found.append((move, left - {event}))
        due = tuple(d for d in at.situation.deadlines if now_us - at.births[d.clock - 1] == d.preset_us)
        found += [(move, left) for move in (self.product.expiries(at.situation, due) if due else ())]
        for move, still in found:
            soonest = max(1, move.exactly_us if self.exact else move.soonest_us)
            if not move.clock or now_us - at.births[move.clock - 1] >= soonest:
                births = tuple(at.births[source - 1] if source else now_us for source in move.births)
                yield _At(move.target, births), still

    def _agrees(self, at: _At) -> bool:
        """Whether the simulator has the same inputs, as far as they are read, the same logic, loads and rods."""
        bench, product, situation = self.bench, self.product, at.situation
        inputs = sum(bit << k for k, bit in enumerate(bench.actuated)) & product.driver.reads
        loads = sum(bit << k for k, bit in enumerate(bench.outputs[0]))
        reaction, state = bench.reactions[0], situation.driver
        motion = bench.plant.motion(bench.now_us)
        ways = [motion[rod.actuator.name][1] for rod in product.rods]
        return (
            situation.supply == bench.supply
            and product.inputs(situation) & product.driver.reads == inputs
            and (reaction is None or product.driver.states[state] == reaction.state)
            and product.driver.on(state) == loads
            and [place.way * place.moving for place in situation.places] == ways
        )


def _strokes(rng: random.Random, machine: Machine, *, exact: bool) -> Iterator[StrokeTimes]:
    def taken(travel: Travel) -> int:
        return travel.greatest_us if exact else rng.randint(travel.least_us, travel.greatest_us)

    for a in machine.actuators:
        rapid = None if a.valve.rapid is None else taken(a.valve.rapid.time)
        extend, retract = taken(a.extend_time), taken(a.retract_time)
        yield StrokeTimes(actuator=a.name, extend_us=extend, retract_us=retract, rapid_us=rapid)


def _event(rng: random.Random, bench: Bench, now_us: int) -> tuple[Event, ...]:
    """Something from outside, just after one thing or before the next, or nothing where that is due first."""
    due_us = bench.due_us()
    moments = [now_us + rng.choice((1, 2, 17, 1003, 50_021)), *(() if due_us is None else (due_us - 1, due_us - 2))]
    at_us = rng.choice(moments)
    if at_us <= now_us or (due_us is not None and at_us >= due_us):
        return ()
    moving = [name for name, (_, way) in bench.plant.motion(at_us).items() if way]
    if moving and not bench.jammed and rng.random() < 0.05:
        return (Event(at_us=at_us, kind=EventKind.JAM, device=rng.choice(moving), on=True),)
    if not bench.supply or rng.random() < 0.08:
        return (Event(at_us=at_us, kind=EventKind.SUPPLY, on=not bench.supply),)
    button = rng.choice(("START", "STOP"))
    return (Event(at_us=at_us, kind=EventKind.INPUT, device=button, on=not bench.is_actuated(button)),)


def _instants_followed(seed: int) -> int:
    """How many instants of a run of one random circuit on one random machine were followed; fails where one is not
    the product's and only one thing happened in it."""
    rng = random.Random(seed)
    machine, exact = _machine(rng), rng.random() < 0.4
    logic = circuit_logic(random_circuit(seed, machine), machine)
    bench = Bench(machine, [wire(machine, logic)], tuple(_strokes(rng, machine, exact=exact)))
    bench.step(0)
    followed = _Followed(Product(logic, None, machine), bench, exact=exact)
    unread = {name for name in ("START", "STOP") if name not in logic.reads}
    for instant in range(80):
        due_us = bench.due_us()
        events = () if due_us is not None and rng.random() < 0.7 else _event(rng, bench, bench.now_us)
        if not events and due_us is None:
            continue
        before, timers = bench.actuated, _due_timers(bench, due_us)
        bench.step(events[0].at_us if events else due_us or 0, events)
        if bench.chattering:
            return instant
        if not followed.go_on(tuple(e for e in events if e.device not in unread)):
            changed = sum(a != b for a, b in zip(before, bench.actuated, strict=True))
            together = changed + (0 if events else timers)
            assert together > 1, (seed, instant, bench.now_us)
            return instant
    return 80


def _due_timers(bench: Bench, due_us: int | None) -> int:
    """1 where the time of a timer is over at that moment, for all such are one event."""
    return int(any(due == due_us for clocks in bench._clocks for due in clocks.values()))


def test_every_instant_of_simulated_runs_is_one_of_the_search() -> None:
    assert sum(_instants_followed(seed) for seed in range(600)) > 20_000


@pytest.mark.campaign
@pytest.mark.parametrize("thousand", range(1, 10))
def test_so_it_is_in_many_more(thousand: int) -> None:
    assert sum(_instants_followed(1000 * thousand + k) for k in range(1000)) > 25_000
