"""Every one-element change of every arrangement is proved harmless or shown to differ, and the ticks agree.

The counts are pinned so that a change of the proof that loses a difference is seen; ``python -m tests.proof.mutation
--same`` lists what makes no difference. Those of the on-delay dwell are reasoned out below.
"""

from __future__ import annotations

import pytest

from compiler.proof.explore import Ending
from grammar.rungs.tree import Contact, Name, Parallel, Series
from tests.proof.cases import UNIT, circuit, press
from tests.proof.mutation import counts, judged
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import KINDS, spoilt

# Proved the same / shown to differ, for each kind of change in the order of KINDS: NO for NC, cut, shorted, seal-in
# cut, preset, coils swapped.
PINNED = {
    ("out, hold, back", "on-delay"): "0/14 2/10 2/12 1/1 0/2 0/6",
    ("out, hold, back", "off-delay"): "1/14 3/10 2/13 1/1 0/2 0/3",
    ("out, hold, back", "one-shot"): "4/6 2/7 7/3 1/0 0/2 0/1",
    ("out, hold, back", "step-chain"): "2/22 2/17 4/20 3/2 0/2 1/20",
    ("pressure ends it", "on-delay"): "0/14 2/10 0/14 1/1 0/2 0/6",
    ("pressure ends it", "one-shot"): "4/6 2/7 7/3 1/0 0/2 0/1",
    ("pressure ends it", "step-chain"): "1/23 2/17 4/20 3/2 0/2 1/20",
    ("a timed stroke", "one-shot"): "0/10 2/7 1/9 1/0 0/2 0/1",
    ("a timed stroke", "step-chain"): "1/25 2/19 4/22 4/1 0/4 2/34",
    ("a memory valve", "step-chain"): "0/27 2/20 3/24 3/2 0/2 0/36",
    ("a watched stroke", "step-chain"): "2/35 2/29 9/28 3/3 0/4 1/65",
    ("two cylinders", "step-chain"): "2/28 2/22 5/25 3/3 0/0 1/35",
}

QUICK = {"on-delay", "off-delay", "one-shot"}
CASES = [
    pytest.param(name, arrangement, marks=() if arrangement in QUICK else pytest.mark.campaign)
    for name, arrangement in PINNED
]


@pytest.mark.parametrize(("name", "arrangement"), CASES)
def test_every_change_is_settled_and_the_ticks_agree(name: str, arrangement: str) -> None:
    sequence = next(s for s in SEQUENCES if s.name == name)
    changes = list(judged(sequence, arrangement))
    for change in changes:
        assert change.ending is not Ending.NOT_SETTLED
        assert (change.ending is Ending.DIFFERS) == change.ticks_differ, change
    table = counts(changes)
    assert sum(map(sum, table.values())) == len(changes)
    assert " ".join(f"{same}/{differ}" for same, differ, _ in table.values()) == PINNED[name, arrangement]


def test_every_arrangement_of_the_six_sequences_is_pinned() -> None:
    assert set(PINNED) == {(s.name, arrangement) for s in SEQUENCES for arrangement in s.arrangements}
    assert len(SEQUENCES) == 6


def test_what_makes_no_difference_to_the_on_delay_dwell() -> None:
    """Worked out by hand, the rungs being

        1: (START and AR1 and LS2) or CR1, STOP NC, TR1 NCTO, feeds CR1        3: CR1, feeds SOL1
        2: CR1, LS1, feeds TR1                      4: CR1 NC, START NC or (AR1 and LS2 and STOP NC), feeds AR1

    Rung 2 without CR1: TR1 may stay in a little longer, but not until LS2 is made, which a start needs. Rung 4
    without CR1: AR1 is in during the cycle too once START is up, which changes nothing, for START must be up at the
    end in any case. Rung 4 without its seal-in, or with LS2 or STOP NC cut there: AR1 drops at the press, when CR1
    has picked up or cannot. (That branch is for the race of the two relays, which is not what is proved here.)
    """
    changes = judged(SEQUENCES[0], "on-delay")
    assert {(c.kind, c.what) for c in changes if c.ending is Ending.ALIKE} == {
        ("shorted", "CR1 NO in rung 2"),
        ("shorted", "CR1 NC in rung 4"),
        ("seal-in cut", "AR1 NO in rung 4"),
        ("cut", "LS2 NO in rung 4"),
        ("cut", "STOP NC in rung 4"),
    }


def test_each_kind_of_change_on_a_circuit_of_two_rungs() -> None:
    """START or CR1, STOP NC, TR1 NCTO feeds CR1; CR1 feeds TR1: counted and read by hand."""
    drawn = circuit(press(), {"TR1": "on-delay 1"}, "START or CR1, STOP NC, TR1 NCTO, feeds CR1", "CR1, feeds TR1")
    found = [(kind, what) for kind, what, _ in spoilt(drawn, preset_by_us=UNIT)]
    # Five contacts turned and shorted, four of them cut and the seal-in too; a preset of 1 unit can only be longer.
    assert [sum(kind == k for kind, _ in found) for k in KINDS] == [5, 4, 5, 1, 1, 1]
    networks = {(kind, what): other.rungs for kind, what, other in spoilt(drawn, preset_by_us=UNIT)}
    start, seal = Contact(Name("START")), Contact(Name("CR1"))
    shorted = networks["shorted", "START NO in rung 1"][0].network
    cut = networks["seal-in cut", "CR1 NO in rung 1"][0].network
    assert isinstance(shorted, Series)
    assert isinstance(cut, Series)
    assert Parallel((start, seal)) not in shorted.parts
    assert len(shorted.parts) == 2  # a shorted branch shorts what is beside it
    assert cut.parts[0] == start
    swapped = networks["coils swapped", "CR1 and TR1"]
    assert [rung.feeds[0].name.text for rung in swapped] == ["TR1", "CR1"]
