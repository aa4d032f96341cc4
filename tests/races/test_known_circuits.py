"""Circuits whose races are known: relay practice, and the races and hazards of the literature on switching circuits.

A race is critical when its outcome depends on who wins, and an output that ought to stand still but may not has a
static hazard, one that changes more often than once a dynamic hazard: D. A. Huffman 1954 and 1957; S. H. Unger,
"Asynchronous Sequential Switching Circuits", 1969 (from memory). Orders and outcomes below are worked out by hand.
"""

from __future__ import annotations

from dataclasses import fields

import pytest

from compiler.circuit import circuit_logic
from compiler.races import RaceKind, Stimulus, open_world, races
from grammar.rungs.tree import Circuit, Contact, Device, Feed, Kind, Parallel, Rung, Series
from tests.races.circuits import MACHINE, analysed, change, circuit, everywhere

_SEAL_IN = "relay CR1\nrung 1: START or CR1, STOP NC, feeds CR1\nrung 2: CR1, feeds SOL1\n"


def test_a_seal_in_circuit_is_free() -> None:
    """Common practice: nothing moves but the one relay, and its seal closes in the very place of the button's."""
    found = everywhere(_SEAL_IN)
    assert found.free
    assert found.found == ()
    assert found.lines == (f"free of critical races: every order in {found.stimuli} situations was tried",)


def test_a_seal_through_both_sides_of_a_relay_may_be_lost_as_it_changes_over() -> None:
    """The simultaneous view sees a wire in CR2 or CR2 NC; a changeover contact is open on its way."""
    text = (
        "relay CR1\nrelay CR2\nrung 1: START or CR1, CR2 or CR2 NC, STOP NC, feeds CR1\n"
        "rung 2: LS1, feeds CR2\nrung 3: CR1, feeds SOL1\n"
    )
    assert everywhere(text.replace(", CR2 or CR2 NC", "")).free
    (race,) = analysed(text, "", "START", "", "LS1").found
    assert race.kind is RaceKind.CRITICAL
    assert race.about == ("CR1", "SOL1")
    assert (race.happens, race.setting) == ("LS1 makes", "CR1 in")
    assert race.orders == (
        ("CR2's NC contact opens", "CR2 picks up"),
        ("CR2's NC contact opens", "CR1 drops out", "CR2 picks up"),
    )
    assert race.outcomes == ("CR1 in, SOL1 on", "CR1 out, SOL1 off")


_ONE_HOT = (
    "relay K1\nrelay K2\nrung 1: START or K1, K2 NC, STOP NC, feeds K1\n"
    "rung 2: (K1 and LS1) or K2, STOP NC, feeds K2\nrung 3: K1, feeds SOL1\nrung 4: K2, feeds LAMP1\n"
)


def test_a_step_that_drops_the_one_before_it_may_be_lost_between_the_two() -> None:
    """Common practice: K2's NC contact drops out K1 before K2's own contact has sealed it in. A chain with one relay
    in at a time wants contacts that make before they break; the accumulating chain does not."""
    (race,) = analysed(_ONE_HOT, "", "START", "", "LS1").found
    assert race.kind is RaceKind.CRITICAL
    assert race.about == ("K2", "LAMP1")
    assert race.orders == (
        ("K2's NC contact opens", "K2 picks up", "K1 drops out"),
        ("K2's NC contact opens", "K1 drops out", "K2 falls back"),
    )
    assert race.outcomes == ("K2 in, LAMP1 on", "K2 out, LAMP1 off")


def test_an_accumulating_chain_hands_over_without_a_race() -> None:
    """Common practice: each step keeps the one before it in; the output of step 1 goes off by K2's NC contact."""
    text = (
        "relay K1\nrelay K2\nrung 1: START or K1, STOP NC, feeds K1\nrung 2: (LS1 or K2), K1, feeds K2\n"
        "rung 3: K1, K2 NC, feeds SOL1\nrung 4: K2, feeds LAMP1\n"
    )
    found = analysed(text, "", "START", "", "LS1")
    assert found.found == ()
    assert found.free


def test_a_buzzer_never_rests() -> None:
    """A relay that breaks its own coil: the oldest relay oscillator there is (common practice)."""
    text = "relay CR1\nrung 1: AUTO, CR1 NC, feeds CR1\n"
    (race,) = analysed(text, "", "AUTO").found
    assert race.kind is RaceKind.ENDLESS
    assert race.about == ("CR1",)
    assert race.orders[1] == ("CR1 picks up", "CR1 drops out", "so on")
    assert race.outcomes == ("it never settles", "CR1 may never rest")
    assert not analysed(text, "", "AUTO").free


def test_a_buzzer_breaks_its_coil_before_its_armature_has_come_home() -> None:
    """With a NO contact in use as well the relay is seen in its middle position: it need not ever close that one."""
    (race,) = analysed("relay CR1\nrung 1: AUTO, CR1 NC, feeds CR1\nrung 2: CR1, feeds LAMP1\n", "", "AUTO").found
    assert race.orders[1] == ("CR1's NC contact opens", "CR1 falls back", "so on")


def test_an_oscillator_that_the_simultaneous_view_stops_at_once_goes_on_for_a_while_only() -> None:
    """AUTO starts it, and its own third relay ends it: the buzzer need not stop while CR3 takes its time, but CR3 is
    asked all along and so picks up some day. No loop that lasts, then, and one outcome."""
    text = "relay CR1\nrelay CR3\nrung 1: AUTO, CR1 NC, CR3 NC, feeds CR1\nrung 2: AUTO, feeds CR3\n"
    found = analysed(text, "", "AUTO")
    assert [race for race in found.found if race.kind is not RaceKind.HAZARD] == []
    assert found.free


def test_two_relays_that_lock_each_other_out_race_for_it() -> None:
    """The cross-coupled pair: either may win (Unger 1969, from memory). The simultaneous view has both move for ever;
    however little one of two relays is quicker, it breaks the coil of the other."""
    text = "relay CR1\nrelay CR2\nrung 1: AUTO, CR2 NC, feeds CR1\nrung 2: AUTO, CR1 NC, feeds CR2\n"
    found = analysed(text, "", "AUTO").found
    assert [race.kind for race in found] == [RaceKind.CRITICAL]
    assert found[0].about == ("CR1", "CR2")
    assert set(found[0].outcomes) == {"CR1 in, CR2 out", "CR1 out, CR2 in"}
    assert set(found[0].orders) == {("CR1 picks up",), ("CR2 picks up",)}


def test_two_relays_that_follow_one_switch_may_blink_an_output() -> None:
    """A static hazard: CR1, CR2 NC never conducts at rest (Huffman 1957, from memory)."""
    text = "relay CR1\nrelay CR2\nrung 1: LS1, feeds CR1\nrung 2: LS1, feeds CR2\nrung 3: CR1, CR2 NC, feeds SOL1\n"
    found = analysed(text, "", "LS1")
    assert found.free
    (race,) = found.found
    assert race.kind is RaceKind.HAZARD
    assert race.about == ("SOL1",)
    assert race.orders == (("CR2 picks up", "CR1 picks up"), ("CR1 picks up", "CR2 picks up"))
    assert race.outcomes == ("SOL1 stays off", "SOL1 comes on for a moment")
    assert found.lines == (
        "free of critical races: every order in 1 situation was tried",
        "hazard when LS1 makes:",
        "    CR2 picks up, then CR1 picks up: SOL1 stays off",
        "    CR1 picks up, then CR2 picks up: SOL1 comes on for a moment",
    )


def test_an_output_may_come_on_twice() -> None:
    """A dynamic hazard: (CR1, CR2 NC) or CR3, all three picked up by one switch, is on, off and on again if CR1 is
    first, CR2 second and CR3 last."""
    text = (
        "relay CR1\nrelay CR2\nrelay CR3\nrung 1: LS1, feeds CR1 and CR2 and CR3\n"
        "rung 2: (CR1 and CR2 NC) or CR3, feeds SOL1\n"
    )
    (race,) = analysed(text, "", "LS1").found
    assert race.orders[1] == ("CR1 picks up", "CR2 picks up", "CR3 picks up")
    assert race.outcomes == ("SOL1 comes on", "SOL1 comes on, goes off for a moment and comes on again")


def test_a_load_on_both_sides_of_a_relay_goes_off_for_a_moment_whatever_the_order() -> None:
    text = "relay CR1\nrung 1: LS1, feeds CR1\nrung 2: CR1 or CR1 NC, feeds SOL1\n"
    (race,) = analysed(text, "", "LS1").found
    assert race.orders == (("whatever the order",), ("CR1's NC contact opens", "CR1 picks up"))
    assert race.outcomes == ("SOL1 goes off for a moment",) * 2
    assert [line.strip() for line in race.lines[1:]] == [
        "whatever the order: SOL1 goes off for a moment",
        "for example CR1's NC contact opens, then CR1 picks up",
    ]


@pytest.mark.parametrize(
    ("network", "told"),
    [
        ("CR2, CR1 NC", "SOL1 comes on for a moment"),
        ("CR2 NC or CR1", "SOL1 goes off for a moment"),
        ("(CR2 and CR1 NC) or CR3", "SOL1 comes on, goes off for a moment and comes on again"),
    ],
)
def test_hazards_are_seen_where_orders_are_too_many_to_try_all(
    monkeypatch: pytest.MonkeyPatch, network: str, told: str
) -> None:
    """Relays that only a load brings together, and beside them others that nothing does: 3**12 places and more. The
    load of one relay alone has no hazard."""
    monkeypatch.setattr("compiler.races.find._FEW", 50)
    names = [f"CR{k}" for k in range(1, 13)]
    text = (
        "".join(f"relay {name}\nrelay M{name}\n" for name in names)
        + "".join(f"rung {k}: {name} or {name} NC, feeds M{name}\n" for k, name in enumerate(names, start=20))
        + f"rung 1: LS1, feeds {' and '.join(names)}\nrung 2: {network}, feeds SOL1\nrung 3: CR4, feeds LAMP1\n"
    )
    found = analysed(text, "", "LS1")
    assert found.free
    assert [(race.about, race.outcomes[1]) for race in found.found] == [(("SOL1",), told)]


def test_a_pushbutton_breaks_before_it_makes() -> None:
    """CR1 is held through one side of STOP or the other; while the button travels it is held through neither."""
    text = "relay CR1\nrung 1: START or CR1, STOP or STOP NC, feeds CR1\n"
    (race,) = analysed(text, "", "START", "", "STOP").found
    assert race.about == ("CR1",)
    assert race.orders == (
        ("STOP's NO contact closes",),
        ("CR1 drops out", "STOP's NO contact closes"),
    )


def test_a_timer_may_or_may_not_notice_a_moment_without_current() -> None:
    """The circuit that the simultaneous view says stops and starts the timer anew at one instant; if the button is
    swift enough, the timer is not reset at all and expires earlier."""
    text = (
        "relay CR1\ntimer TR1, on-delay 5 s\n"
        "rung 1: START, feeds CR1\nrung 2: (START and CR1) or (START NC and CR1 NC), feeds TR1\n"
    )
    (race,) = analysed(text, "", "START").found
    assert race.about == ("TR1",)
    assert race.outcomes == ("TR1 timing anew", "TR1 timing")
    assert race.orders[1] == ("START's NO contact closes", "CR1's NC contact opens", "CR1 picks up")
    assert "TR1 is reset" in race.orders[0]
    assert "TR1 starts timing" in race.orders[0]


def test_the_supply_coming_on_is_a_stimulus_too() -> None:
    """Common practice: two seal-ins that each keep the other out, held by a selector, race as power comes on."""
    text = "relay CR1\nrelay CR2\nrung 1: CR2 NC, feeds CR1\nrung 2: CR1 NC, feeds CR2\n"
    tree = circuit(text)
    inputs = (False,) * len(MACHINE.inputs)
    found = races(tree, MACHINE, [Stimulus(None, inputs, inputs)])
    assert found.found[0].kind is RaceKind.CRITICAL
    assert found.found[0].happens == "the supply comes on"


def test_a_timer_that_runs_out_may_race_the_relay_it_is_held_by() -> None:
    """Timed contacts change over: SOL1 is fed by one side or the other, and goes off on the way."""
    text = "timer TR1, on-delay 5 s\nrung 1: LS1, feeds TR1\nrung 2: TR1 NOTC or TR1 NCTO, feeds SOL1\n"
    (race,) = analysed(text, "", "LS1", "LS1", expired=[0]).found
    assert race.happens == "TR1 runs out"
    assert race.orders[1] == ("TR1's timed NC contact opens", "TR1's timed NO contact closes")


@pytest.mark.parametrize(
    ("function", "forms"),
    [
        ("on-delay", ("NO", "NC", "NOTC", "NCTO")),
        ("off-delay", ("NO", "NC", "NOTO", "NCTC")),
        ("one-shot", ("NO", "NC")),
        ("retriggerable one-shot", ("NO", "NC")),
    ],
)
def test_a_lone_timer_races_nothing(function: str, forms: tuple[str, ...]) -> None:
    """With one thing to move at a time every order must come to what the simultaneous view does, form by form. Only
    as the supply comes on may a contact that breaks feed its load for a moment."""
    for form in forms:
        wired = "rung 1: AUTO, feeds TR1 supply\nrung 2: LS1, feeds TR1 control\n"
        found = everywhere(f"timer TR1, {function} 5 s\n{wired}rung 3: TR1 {form}, feeds SOL1\n")
        assert found.free
        assert {race.happens for race in found.found} <= {"the supply comes on"}
        assert found.stimuli > 10


def test_a_latching_relay_that_cuts_off_its_own_coil_may_fall_back() -> None:
    """Common practice: contacts that cut off a latching relay's coils must be late. One that opens as the relay sets
    out leaves it between its two sides without current."""
    text = "latching relay KR1\nrung 1: START, KR1 NC, feeds KR1 latch\nrung 2: STOP, KR1, feeds KR1 unlatch\n"
    assert everywhere(text.replace(", KR1 NC", "").replace(", KR1,", ",")).found == ()
    race, *others = analysed(text, "", "START").found
    assert others == []
    assert race.kind is RaceKind.ENDLESS
    assert race.orders == (
        ("KR1's NC contact opens", "KR1 latches"),
        ("KR1's NC contact opens", "KR1 falls back", "so on"),
    )


def test_a_latching_relay_with_both_coils_wired_to_one_pulse_is_latched_or_not() -> None:
    """LS1 latches it through CR1 NC until CR1 has followed LS1: a pulse that KR1 may or may not take."""
    text = (
        "relay CR1\nlatching relay KR1\nrung 1: LS1, feeds CR1\n"
        "rung 2: LS1, CR1 NC, feeds KR1 latch\nrung 3: STOP, feeds KR1 unlatch\n"
    )
    (race,) = analysed(text, "", "LS1").found
    assert race.about == ("KR1",)
    assert set(race.outcomes) == {"KR1 latched", "KR1 unlatched"}


def test_a_counter_may_or_may_not_count_a_pulse() -> None:
    text = (
        "relay CR1\ncounter CT1, preset 3\nrung 1: LS1, feeds CR1\n"
        "rung 2: LS1, CR1 NC, feeds CT1 count\nrung 3: STOP, feeds CT1 reset\n"
    )
    (race,) = analysed(text, "", "LS1").found
    assert race.about == ("CT1",)
    assert race.outcomes == ("CT1 at 1", "CT1 at 0")
    assert race.orders == (
        ("CT1 counts to 1", "CR1 picks up", "CT1 is no longer live at its count coil"),
        ("CR1 picks up",),
    )


def test_contacts_of_a_master_are_contacts() -> None:
    """The master's relay feeds the whole group: CR2 loses its seal while MCR changes over."""
    text = (
        "relay MCR\nrelay CR2\nrung 1: LS1, feeds MCR\nmaster MCR or MCR NC:\n"
        "rung 2: START or CR2, STOP NC, feeds CR2\nend master\n"
    )
    (race,) = analysed(text, "", "START", "", "LS1").found
    assert race.about == ("CR2",)


def test_the_tree_has_nothing_that_this_analysis_has_not_heard_of() -> None:
    """A new field may change what a circuit does: then the analysis must be taught it, or say that it can't look."""
    heard_of = {
        Circuit: "span title notes devices rungs comments_below",
        Device: "span kind name function preset comments implied",
        Rung: "span number network feeds comments masters",
        Feed: "span name terminal",
        Contact: "span name form",
        Series: "span parts",
        Parallel: "span parts",
    }
    for node, names in heard_of.items():
        assert {field.name for field in fields(node)} == set(names.split())


def test_a_circuit_with_something_strange_in_it_is_not_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("compiler.races.parts._KINDS", {Kind.PUSHBUTTON, Kind.SOLENOID})
    found = everywhere(_SEAL_IN)
    assert not found.settled
    assert not found.free
    (line,) = found.lines
    assert line.startswith("races not looked at: the circuit has a ")
    assert "relay" in line


def test_a_limit_is_not_settled_and_never_free() -> None:
    tree = circuit(_SEAL_IN)
    stimulus = change(circuit_logic(tree, MACHINE), "", "START")
    assert races(tree, MACHINE, [stimulus], limit=3).free
    found = races(tree, MACHINE, [stimulus], limit=1)
    assert not found.settled
    assert not found.free
    assert found.lines == ("races not settled: 1 of 1 situations has more than 1 places",)


def test_what_was_given_up_is_told_with_what_was_looked_at() -> None:
    tree = circuit(_ONE_HOT)
    stimuli = open_world(circuit_logic(tree, MACHINE)).stimuli
    heard: list[str] = []
    whole = races(tree, MACHINE, stimuli, told=heard.append)
    assert whole.settled
    assert heard[-1] == f"trying every order: situation {len(stimuli)} of {len(stimuli)}"
    some = races(tree, MACHINE, stimuli, most=20)
    assert not some.settled
    assert not some.free
    assert 0 < some.stimuli < len(stimuli)
    assert f"given up after {some.stimuli} of {len(stimuli)} situations" in some.lines[0]
    assert {race.about for race in some.found} <= {race.about for race in whole.found}


def test_what_was_found_counts_for_all_situations_alike() -> None:
    tree = circuit(_ONE_HOT)
    world = open_world(circuit_logic(tree, MACHINE))
    once, twice = races(tree, MACHINE, world.stimuli), races(tree, MACHINE, world.stimuli * 2)
    assert [2 * race.situations for race in once.found] == [race.situations for race in twice.found]
    assert twice.stimuli == 2 * once.stimuli
    assert twice.orders == 2 * once.orders


@pytest.mark.parametrize("relays", [1, 2, 3, 4])
def test_orders_are_counted(relays: int) -> None:
    """n relays with one form of contact that follow one switch: n! orders."""
    names = [f"CR{k}" for k in range(relays)]
    text = "".join(f"relay {name}\n" for name in names) + f"rung 1: LS1, feeds {' and '.join(names)}\n"
    assert analysed(text, "", "LS1").orders == [1, 2, 6, 24][relays - 1]
