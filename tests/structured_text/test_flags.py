"""Charts that do several things at once, printed with a flag for each step and read back."""

from __future__ import annotations

from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.machine import Machine
from targets.structured_text import TARGET
from tests.strategies_chart import Moment, histories, machines, wide_charts
from tests.structured_text.nets import nets
from tests.structured_text.test_same_as_chart import first_difference, printed

SLOW = [HealthCheck.filter_too_much, HealthCheck.too_slow, HealthCheck.data_too_large]
some_histories = st.lists(histories(), min_size=1, max_size=3)


def same(machine: Machine, chart: Chart, tried: list[list[Moment]]) -> None:
    text = printed(machine, chart).text
    note(text)
    logic = TARGET.read(text, "x.st", machine)
    assert [first_difference(chart_logic(chart), logic, moments) for moments in tried] == [None] * len(tried)


@settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
@given(machine=machines(), chart=nets(), tried=some_histories)
def test_any_chart_printed_and_read_back_is_the_same(
    machine: Machine, chart: Chart, tried: list[list[Moment]]
) -> None:
    same(machine, chart, tried)


@settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
@given(machine=machines(), chart=wide_charts(), tried=some_histories)
def test_any_chart_as_lowering_makes_them_is_the_same(
    machine: Machine, chart: Chart, tried: list[list[Moment]]
) -> None:
    same(machine, chart, tried)
