"""The rows that names share in a chart."""

from __future__ import annotations

import itertools

from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import usual_cycle
from compiler.logic import Logic
from compiler.simulation.lanes import shared_rows
from compiler.simulation.run import Role
from compiler.simulation.simulate import simulate
from compiler.simulation.traces import traces
from targets.build import read_back
from tests.whole.programs import artefact, example


def test_a_counter_of_a_circuit_tells_every_value_as_the_sequence_does() -> None:
    """The passes of the compactor: none, one, two, and none again as it is cleared; at the same moments in both."""
    compactor = example("bale-compactor")
    assert compactor.chart is not None
    scenario = usual_cycle(compactor.machine, compactor.chart)

    def counted(logic: Logic, title: str) -> list[tuple[str, int]]:
        run = simulate(compactor.machine, logic, scenario)
        rows, _ = shared_rows([t for t in traces(run) if t.role is Role.INSIDE], run.ended_us, compactor.chart)
        (row,) = (spans for name, spans in rows if name == title)
        assert all(one.to_us == other.from_us for one, other in itertools.pairwise(row))
        return [(span.shown, span.from_us) for span in row]

    written = counted(chart_logic(compactor.chart), "C1")
    circuit = read_back(artefact("bale-compactor", "one-hot", anti_repeat=False), compactor.machine)
    assert [value for value, _ in written] == ["0", "1", "2", "0"]
    assert counted(circuit, "CT1 count") == [("reached" if value == "2" else value, at) for value, at in written]
