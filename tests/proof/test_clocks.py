"""Clocks carried over, against what they stand for: since when each thing runs."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.proof.clocks import Clocks, Clockwork
from compiler.proof.zone import start

DRIVER, SHADOW, OTHERS = (5, 7, 5), (5, 9), 3
COUNT = len(DRIVER) + len(SHADOW) + OTHERS
Event = tuple[int, frozenset[int], frozenset[int]]  # so long after the one before; what runs then; what starts anew

events = st.lists(
    st.tuples(st.integers(0, 2), *[st.frozensets(st.integers(0, COUNT - 1), max_size=5)] * 2), min_size=1, max_size=7
)


@settings(max_examples=150, deadline=None)
@given(events)
def test_every_clock_reads_how_long_its_things_have_run(told: list[Event]) -> None:
    """Moments in whole units, each situation left at a known time: its zone is then one point, read off clock by
    clock."""
    work = Clockwork(DRIVER, SHADOW)
    clocks, zone, since = work.none, start(0), dict[int, int]()
    now_us = 0
    for gap, runs, anew in told:
        now_us += gap
        zone = _later(zone, clocks, gap)
        carried = work.carried(clocks, tuple(sorted(runs)), anew)
        since = {k: now_us if k in anew or k not in since else since[k] for k in runs}
        zone, clocks = carried.choice(zone), carried.clocks
        assert clocks.of.keys() == runs
        assert {k: zone[clocks.of[k] * clocks.size] // 2 for k in runs} == {k: now_us - at for k, at in since.items()}
        assert clocks.size <= len(runs) + 1
        _due(clocks, runs)


def _later(zone: tuple[int, ...], clocks: Clocks, gap: int) -> tuple[int, ...]:
    """The zone of one point, so much later."""
    point = [0, *(zone[k * clocks.size] // 2 + gap for k in range(1, clocks.size))]
    return tuple(2 * (a - b) + 1 for a in point for b in point)


def _due(clocks: Clocks, runs: frozenset[int]) -> None:
    """Every timer that runs is due once, with those of its clock and preset; its clock may read no more than that."""
    presets = (*DRIVER, *SHADOW)
    timers = [k for k in sorted(runs) if k < len(presets)]
    due = [
        (k + own * len(DRIVER), deadline.clock, deadline.preset_us)
        for deadline in clocks.deadlines
        for own in (0, 1)
        for k in deadline.timers[own]
    ]
    assert sorted(due) == [(k, clocks.of[k], presets[k]) for k in timers]
    assert len({(d.clock, d.preset_us) for d in clocks.deadlines}) == len(clocks.deadlines)
    assert dict(clocks.limits) == {clock: min(p for _, c, p in due if c == clock) for _, clock, _ in due}
    assert sorted(clocks.others) == [(k, clocks.of[k]) for k in sorted(runs) if k >= len(presets)]


def test_what_starts_together_shares_a_clock_and_clocks_are_counted_in_order_of_use() -> None:
    work = Clockwork(DRIVER, SHADOW)
    first = work.carried(work.none, (1, 4), frozenset())
    assert (first.clocks.of, first.births) == ({1: 1, 4: 1}, (0,))
    second = work.carried(first.clocks, (0, 1, 4), frozenset())
    assert (second.clocks.of, second.births) == ({0: 1, 1: 2, 4: 2}, (0, 1))
    assert work.carried(second.clocks, (1, 4), frozenset()).clocks is first.clocks
    assert work.kept(second.clocks).births == (1, 2)
