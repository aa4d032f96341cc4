"""A printed circuit beside the chart it was printed from, in one history of what comes in."""

from __future__ import annotations

from hypothesis import assume

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.machine import Machine
from targets.relay import TARGET
from targets.target import Artefact, Options
from tests.relay.clock import play_both
from tests.strategies_chart import Moment

__all__ = ["difference_from_chart", "repeats_inputs"]

_CHATTERS = "the sequence as written chatters"


def repeats_inputs(rungs: Artefact) -> bool:
    """Whether relays repeat inputs. These follow a moment later than an input that none repeats: two that change at
    the very same instant are seen one after the other, as the proof takes all inputs to change."""
    return any(line.startswith(("relay IR", "relay SR")) for line in rungs.text.splitlines())


def difference_from_chart(arrangement: str, machine: Machine, chart: Chart, history: list[Moment]) -> str | None:
    """Where an arrangement with its anti-repeat relay parts from the chart, inputs changing one after another; None
    where it does not. A chart that it does not fit is no case."""
    emitted = next(iter(TARGET.emit(machine, chart, options=Options(anti_repeat=True, arrangements=(arrangement,)))))
    assume(isinstance(emitted, Artefact))
    assert isinstance(emitted, Artefact)
    assert emitted.announces == frozenset()
    printed = TARGET.read(emitted.text, emitted.file, machine)
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    found = play_both(chart_logic(chart), printed, moments, joint=False)
    if found is None or _CHATTERS in found:
        return None  # a partial chart that never settles may be a relay that does
    return f"{found}\n{emitted.text}"
