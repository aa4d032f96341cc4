"""Requirements in a search of every timing: against times worked out by hand, and against simulated runs."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import make_scenarios
from compiler.machine import Machine
from compiler.proof.explore import Ending, Node, explore
from compiler.proof.monitor import watched
from compiler.proof.product import Product
from compiler.proof.situation import Move
from compiler.proof.witness import Untimed, scenario_of
from compiler.proof.world import World
from compiler.proof.zone import Zone
from compiler.simulation.run import EventKind, Scenario
from compiler.understand import understand
from grammar.source import Source
from tests.proof.looking_on import ran

RAM = """hydraulic cylinder RAM
    stroke 200 mm
    extends in 3 s to 4 s
    retracts in 2 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end
    limit switch LS2 at home
pushbutton START, normally open
lamp BUSY
home when RAM is at-home
cycle
    turn on BUSY and extend RAM until at-end
    hold 5 s
    retract RAM until at-home
    turn off BUSY
"""
_SLOW = settings(deadline=None, suppress_health_check=list(HealthCheck))
UNDISTURBED = World(careful=True, no_jam=True, supplied=True)


def understood_with(rules: str) -> tuple[Machine, Chart]:
    understood = understand(Source("<t>", RAM + rules + "\n"))
    assert understood.chart is not None, understood.diagnostics
    return understood.machine, understood.chart


def broken_in_some_run(machine: Machine, chart: Chart, world: World) -> dict[str, Scenario | None]:
    """The requirements that a search of every timing finds broken for longer than no time, each with a run to it.

    None where whole microseconds leave no such run: a long path of reversals, each with a microsecond to spare.
    """
    logic = watched(chart_logic(chart), chart)
    product = Product(logic, None, machine, extra=logic.breaks)
    bits = {r.name: 1 << len(machine.loads) + k for k, r in enumerate(logic.requirements)}
    found: dict[str, Node] = {}

    def see(before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        on = product.driver.on(move.target.driver) if lasts else 0
        for name, bit in bits.items():
            if on & bit and name not in found:
                found[name] = Node(move.target, readings, move, before, 0)

    see(None, product.first(), (), lasts=True)  # there nothing has a time that is over already
    assert explore(product, world, seen=see).ending is Ending.ALIKE

    def run(name: str) -> Scenario | None:
        try:
            return scenario_of(product, found[name], world, name)
        except Untimed:
            return None

    return {name: run(name) for name in found}


@pytest.mark.parametrize(
    ("rule", "is_broken"),
    [
        # The stroke takes 4 s at most, and may take all of it.
        ("whenever START is pressed, RAM is at-end within 4 s", False),
        ("whenever START is pressed, RAM is at-end within 3.999999 s", True),
        # 4 s out, 5 s held, 2 s back.
        ("BUSY leads to BUSY is off within 11 s", False),
        ("BUSY leads to BUSY is off within 10.999999 s", True),
        # So BUSY is on for 11 s at most, and never for longer.
        ("never BUSY for 11 s", False),
        ("never BUSY for 10.9 s", True),
        ("always BUSY while SOL1", False),
        ("always SOL1 while BUSY", True),
        ("never SOL1 while RAM is at-end", True),
        ("whenever RAM is at-end, SOL1 is off within 5 s", False),
        ("whenever RAM is at-end, SOL1 is off within 4.9 s", True),
    ],
)
def test_a_search_of_every_timing_finds_what_can_break(rule: str, is_broken: bool) -> None:
    assert broken_in_some_run(*understood_with(rule), UNDISTURBED).keys() == ({"N1"} if is_broken else set())


def test_a_search_of_every_timing_counts_what_nobody_assumed_away() -> None:
    """A stroke that jams never arrives; an exact one takes 4 s and no less."""
    arrives = understood_with("whenever START is pressed, RAM is at-end within 4 s")
    assert broken_in_some_run(*arrives, World(careful=True, supplied=True)).keys() == {"N1"}
    assert broken_in_some_run(*arrives, UNDISTURBED).keys() == set()
    too_soon = understood_with("never RAM is at-end while SOL1 and not (BUSY for 3.5 s)")
    assert broken_in_some_run(*too_soon, UNDISTURBED).keys() == {"N1"}
    assert broken_in_some_run(*too_soon, World(careful=True, no_jam=True, supplied=True, exact=True)).keys() == set()


LEVELS = st.sampled_from(["START is held", "RAM is at-end", "RAM is at-home", "SOL1", "BUSY"])
TIMES = st.sampled_from(["0.5 s", "2 s", "4 s", "5 s"])
STEADY = LEVELS | LEVELS.map("not {}".format) | st.builds("{} and {}".format, LEVELS, LEVELS)
LASTING = STEADY | st.builds("({}) for {}".format, STEADY, TIMES)
RULES = st.one_of(
    st.builds("{} {}".format, st.sampled_from(["never", "always"]), LASTING),
    st.builds("{} {} while {}".format, st.sampled_from(["never", "always"]), LASTING, LASTING),
    st.builds("whenever {}, {} within {}".format, LASTING | st.just("START is pressed"), LASTING, TIMES),
)
_STICKING = {EventKind.STUCK_MADE, EventKind.STUCK_OPEN}  # the search takes it that switches work


@settings(_SLOW, max_examples=6)
@given(st.lists(RULES, min_size=1, max_size=2))
def test_a_search_finds_what_simulated_runs_break_and_every_break_it_finds_can_be_run(rules: list[str]) -> None:
    """The search is of every timing: it finds at least what breaks in the runs of a check, and shows a run for it."""
    machine, chart = understood_with("\n".join(rules))
    found = broken_in_some_run(machine, chart, World())
    simulated: set[str] = set()
    for scenario in make_scenarios(machine, chart):
        if not _STICKING & {event.kind for event in scenario.events}:
            simulated |= set(ran(machine, chart, scenario).watched)
    assert simulated <= found.keys()
    for name, run in found.items():
        # An input that goes and comes in no time is an event to the search; a simulated run sees one instant.
        if run and len({(event.at_us, event.device) for event in run.events}) == len(run.events):
            assert name in ran(machine, chart, run).watched
