"""What a chart may hold beside steps and transitions, each with its clause: several stations, counters, aborts,
interlocks, a forcing into steps of its own."""

from __future__ import annotations

from collections.abc import Mapping

from compiler.chart import Action, ActionKind, Chart, Counting, CountingKind, Forcing, Interlock, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Active, Always, Condition, Counted, Elapsed, Not, Rise, Signal
from compiler.document import Document, read_document
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from compiler.shape import shape_of

A, B, C = (Signal(device=name) for name in "abc")
Inputs = tuple[bool, bool, bool]
NONE: Inputs = (False, False, False)


def pressed(*names: str) -> Inputs:
    return ("a" in names, "b" in names, "c" in names)


def t(name: str, sources: str, targets: str, condition: Condition, aborts: str = "") -> Transition:
    return Transition(
        name=name,
        sources=tuple(sources.split()),
        targets=tuple(targets.split()),
        condition=condition,
        aborts=tuple(aborts.split()),
    )


def steps(names: str, **more: Mapping[str, object]) -> tuple[Step, ...]:
    """Steps by name, an initial one marked with *; each step x switches an output X on, unless ``more`` says."""
    made = []
    for name in names.split():
        plain = name.strip("*")
        parts = {"actions": (Action(output=plain.upper()),), **more.get(plain, {})}
        made.append(Step.model_validate({"name": plain, "initial": "*" in name, **parts}))
    return tuple(made)


def chart(made: tuple[Step, ...], *transitions: Transition, **more: object) -> Chart:
    outputs = tuple(step.name.upper() for step in made)
    return Chart.model_validate(
        {"inputs": ("a", "b", "c"), "outputs": outputs, "steps": made, "transitions": transitions, **more}
    )


def through(made: Chart, *history: Inputs) -> list[set[str]]:
    """The active steps after each of the inputs, the first of them at power-up."""
    logic = chart_logic(made)
    state = logic.power_up(history[0]).state
    lit = [set(logic.lit(state))]
    for inputs in history[1:]:
        state = logic.react(state, inputs).state
        lit.append(set(logic.lit(state)))
    return lit


def test_every_initial_step_is_a_station_of_its_own() -> None:
    """IEC 60848:2013 rule 1: all initial steps are active at time zero; partial charts go on side by side."""
    made = chart(steps("x* y u* v"), t("1", "x", "y", A), t("2", "u", "v", B))
    assert through(made, NONE, pressed("a"), pressed("a", "b")) == [{"x", "u"}, {"y", "u"}, {"y", "v"}]
    assert [set(rest) for rest in shape_of(made).stations] == [{"x"}, {"u"}]


def test_a_station_may_wait_for_a_step_of_another() -> None:
    """IEC 60848:2013, step variable X: it is seen in the situation in which the transition is looked at."""
    made = chart(steps("x* y u* v"), t("1", "x", "y", A), t("2", "u", "v", Active(step="y")))
    assert through(made, NONE, pressed("a")) == [{"x", "u"}, {"y", "v"}]


def test_branches_that_end_at_one_instant_are_joined_at_that_instant() -> None:
    """IEC 60848:2013 rules 2 and 3: a join needs every step before it, and leaves them all at once."""
    made = chart(
        steps("x* p q v w z"),
        t("fork", "x", "p q", A),
        t("1", "p", "v", B),
        t("2", "q", "w", B),
        t("join", "v w", "z", Always()),
    )
    assert through(made, NONE, pressed("a"), pressed("b")) == [{"x"}, {"p", "q"}, {"z"}]
    apart = chart(made.steps, *made.transitions[:2], t("2", "q", "w", C), made.transitions[3])
    assert through(apart, NONE, pressed("a"), pressed("b"), pressed("c"))[2:] == [{"v", "q"}, {"z"}]


COUNT = {"counting": (Counting(counter="n"),)}
CLEAR = {"counting": (Counting(counter="n", kind=CountingKind.CLEAR),)}


def _counts(made: Chart, *history: Inputs) -> list[int]:
    logic = chart_logic(made)
    state = logic.power_up(history[0]).state
    counts = [logic.count(state, "n")]
    for inputs in history[1:]:
        state = logic.react(state, inputs).state
        counts.append(logic.count(state, "n"))
    return counts


def test_a_counter_counts_entries_up_to_the_greatest_number_asked_for() -> None:
    """A stored action on the activation of a step (IEC 60848:2013), as a counter stays at its greatest value."""
    to, back = t("to", "x", "y", A), t("back", "y", "x", Not(of=A))
    done = t("done", "y", "z", Counted(counter="n", at_least=2))
    made = chart(steps("x* y z", y=COUNT), to, back, done, counters=("n",))
    assert _counts(made, NONE, pressed("a"), NONE, pressed("a"), NONE) == [0, 1, 1, 2, 2]
    assert through(made, NONE, pressed("a"), NONE, pressed("a"))[-1] == {"z"}
    idle = chart(steps("x* y z", y=COUNT), to, back, t("done", "z", "x", done.condition), counters=("n",))
    assert _counts(idle, *[NONE, pressed("a")] * 4) == [0, 1, 1, 2, 2, 2, 2, 2]


def test_clearing_comes_before_counting_and_steps_entered_together_count_one() -> None:
    both = {"counting": (*COUNT["counting"], *CLEAR["counting"])}
    asked = t("asked", "w", "x", Counted(counter="n", at_least=9))
    to, on = t("to", "x", "y", A), t("on", "y", "z", B)
    made = chart(steps("x* y z w", y=COUNT, z=both), to, on, asked, counters=("n",))
    assert _counts(made, NONE, pressed("a"), pressed("b")) == [0, 1, 1]
    side_by_side = chart(steps("x* y z w", y=COUNT, z=COUNT), t("to", "x", "y z", A), asked, counters=("n",))
    assert _counts(side_by_side, NONE, pressed("a")) == [0, 1]
    cleared = chart(steps("x* y z w", y=COUNT, z=CLEAR), to, on, asked, counters=("n",))
    assert _counts(cleared, NONE, pressed("a"), pressed("b")) == [0, 1, 0]


def test_a_counter_keeps_its_count_over_a_stop_and_loses_it_with_the_supply() -> None:
    to, asked = t("to", "x", "y", A), t("asked", "y", "x", Counted(counter="n", at_least=9))
    stopped = Forcing(condition=B)
    made = chart(steps("x* y", y=COUNT), to, asked, counters=("n",), forcing=stopped)
    assert _counts(made, NONE, pressed("a"), pressed("b"), NONE, pressed("a")) == [0, 1, 1, 1, 2]
    assert chart_logic(made).count(chart_logic(made).power_up(NONE).state, "n") == 0


def test_an_abort_breaks_off_the_other_branches() -> None:
    """IEC 60848:2013, enclosing step: leaving it leaves all it encloses, active or not."""
    fork, fault = t("fork", "x", "p q", A), t("fault", "p", "f", B, aborts="q v w")
    made = chart(steps("x* p q v w f"), fork, t("1", "q", "w", C), fault)
    assert through(made, NONE, pressed("a"), pressed("b"))[-1] == {"f"}
    # A step that is aborted at the same moment is not left by its own transition.
    assert through(made, NONE, pressed("a"), pressed("b", "c"))[-1] == {"f"}


def test_of_two_faults_at_one_moment_the_one_written_first_stands() -> None:
    fork = t("fork", "x", "p q", A)
    one, two = t("one", "p", "f", B, aborts="q"), t("two", "q", "g", B, aborts="p")
    assert through(chart(steps("x* p q f g"), fork, one, two), NONE, pressed("a"), pressed("b"))[-1] == {"f"}
    assert through(chart(steps("x* p q f g"), fork, two, one), NONE, pressed("a"), pressed("b"))[-1] == {"g"}
    # The later one aborts what the first one leaves, and not the other way round: the first one stands all the same.
    apart, two = (t("one", "p", "f", Rise(device="b"), aborts="r"), t("two", "q", "g", Rise(device="b"), aborts="p"))
    made = chart(steps("x* p q r f g"), t("fork", "x", "p q r", A), apart, two)
    assert through(made, NONE, pressed("a"), pressed("b"))[-1] == {"q", "f"}


def test_a_forcing_with_an_edge_forces_once_into_its_steps() -> None:
    """IEC 60848:2013 forcing order {n}: ahead of evolution, while its condition holds; an edge holds for a moment."""
    home = t("home", "h", "x", C)
    forcing = Forcing(condition=Rise(device="b"), steps=("h",))
    made = chart(steps("x* y h"), t("to", "x", "y", A), home, forcing=forcing)
    lit = through(made, NONE, pressed("a"), pressed("b"), pressed("b", "c"), pressed("b"), NONE, pressed("b"))
    assert lit == [{"x"}, {"y"}, {"h"}, {"x"}, {"x"}, {"x"}, {"h"}]


def test_forcing_switches_stored_outputs_off() -> None:
    kept = {"actions": (Action(output="X", kind=ActionKind.SET_ON_ENTRY),)}
    made = chart(steps("x* y", y=kept), t("to", "x", "y", A), forcing=Forcing(condition=B))
    logic = chart_logic(made)
    on = logic.react(logic.power_up(NONE).state, pressed("a"))
    off = logic.react(logic.react(on.state, pressed("b")).state, NONE)
    assert on.outputs == (True, False)
    assert chart_logic(made).react(off.state, NONE).outputs == (True, False)  # x itself holds X on


def test_an_interlock_holds_an_output_off_and_two_that_exclude_each_other_both() -> None:
    """Enforced: looked at as the steps command, before any interlock (common practice: NC contacts crosswise)."""
    both = {"actions": (Action(output="X"), Action(output="Y"))}
    locks = (
        Interlock(output="X", only_while=Not(of=Signal(device="Y"))),
        Interlock(output="Y", only_while=Not(of=Signal(device="X"))),
    )
    made = chart(steps("x* y z", z=both), t("to", "x", "z", A), interlocks=locks)
    logic = chart_logic(made)
    start = logic.power_up(NONE)
    assert start.outputs == (True, False, False)
    assert logic.react(start.state, pressed("a")).outputs == (False, False, False)
    guarded = chart_logic(chart(steps("x*"), interlocks=(Interlock(output="X", only_while=A),)))
    state = guarded.power_up(NONE)
    assert state.outputs == (False,)
    assert guarded.react(state.state, pressed("a")).outputs == (True,)


def test_what_only_remembers_is_no_station() -> None:
    plain = {"actions": ()}
    made = chart(
        steps("x* y n* m", n=plain, m=plain),
        t("1", "x", "y", A),
        t("2", "y", "x", B),
        t("3", "n", "m", C),
        t("4", "m", "n", Elapsed(step="m", time_us=5)),
    )
    shape = shape_of(made)
    assert (set(shape.memory), [set(rest) for rest in shape.stations]) == ({"n", "m"}, [{"x"}])
    assert shape.initial == {"x"}


def test_the_document_keeps_all_of_it() -> None:
    machine = Machine(
        inputs=tuple(Input(name=n, kind=InputKind.SENSOR) for n in "abc"),
        loads=tuple(Load(name=n, kind=LoadKind.LAMP) for n in "XYF"),
    )
    made = chart(
        steps("x* y f", y=COUNT),
        t("1", "x", "y", A, aborts="f"),
        t("2", "y", "x", Counted(counter="n", at_least=3)),
        counters=("n",),
        interlocks=(Interlock(output="X", only_while=A),),
        forcing=Forcing(condition=Rise(device="b"), steps=("y",)),
    )
    document = Document(machine=machine, chart=made)
    assert read_document(document.to_json()) == document
