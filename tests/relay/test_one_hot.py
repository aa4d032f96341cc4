"""The one-hot chain against the chart: with every press told apart it must be the same in everything."""

from __future__ import annotations

from hypothesis import HealthCheck, Phase, assume, given, settings

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.machine import Machine
from targets.relay import TARGET
from targets.target import Artefact, Options
from tests.relay.clock import play_both
from tests.relay.wide import wide_charts
from tests.strategies_chart import Moment, charts, histories, machines

_CHATTERS = "the sequence as written chatters"
_SETTINGS = settings(
    phases=(Phase.generate,),
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


def _difference(machine: Machine, chart: Chart, history: list[Moment]) -> str | None:
    options = Options(anti_repeat=True, arrangements=("one-hot",))
    emitted = next(iter(TARGET.emit(machine, chart, options=options)))
    assume(isinstance(emitted, Artefact))
    assert isinstance(emitted, Artefact)
    assert emitted.announces == frozenset()
    printed = TARGET.read(emitted.text, emitted.file, machine)
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    found = play_both(chart_logic(chart), printed, moments, joint=False)
    if found is not None and _CHATTERS in found:
        return None  # a partial chart that never settles may be a relay that does
    return None if found is None else f"{found}\n{emitted.text}"


@_SETTINGS
@given(machines(), charts(stored=True), histories())
def test_is_the_chart_again(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = _difference(machine, chart, history)
    assert difference is None, difference


@settings(_SETTINGS, max_examples=50)
@given(machines(), wide_charts(), histories(most=40))
def test_follows_stations_branches_choices_and_repeats(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = _difference(machine, chart, history)
    assert difference is None, difference
