"""Networks as boolean functions, by an SMT solver: before and after the round trip, opposites, and conditions."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import z3  # type: ignore[import-untyped]  # z3 ships no types
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.condition import Always, And, Condition, Not, Or, Rise, Signal, Sustained, both, either
from grammar.rungs import read, write
from grammar.rungs.tree import Circuit, Contact, Device, Form, Kind, Name, Network, Parallel, Series, TimerFunction
from grammar.source import Source
from targets.build import emit_all
from targets.relay.network import (
    WIRE,
    Leaf,
    Term,
    Unfit,
    complement,
    contact,
    network,
    parallel,
    series,
    terms,
    without_idle,
)
from targets.target import Options
from tests.relay.strategies import circuits, networks
from tests.whole.programs import EXAMPLES, example

_DEVICES = [
    Device(Kind.PUSHBUTTON, Name("START")),
    Device(Kind.RELAY, Name("CR1")),
    Device(Kind.TIMER, Name("TR1"), TimerFunction.ON_DELAY),
    Device(Kind.TIMER, Name("TR2"), TimerFunction.OFF_DELAY),
]
_BREAKS = (Form.NC, Form.NCTO, Form.NCTC)


def boolean(net: Network) -> z3.BoolRef:
    """A network as a boolean function of its devices; a timer's timed contacts and its instant ones are two."""
    match net:
        case Contact(name=name, form=form):
            timed = form not in (Form.NO, Form.NC)
            made = z3.Bool(f"{name.text.casefold()}{' timed' if timed else ''}")
            return z3.Not(made) if form in _BREAKS else made
        case Series(parts=parts):
            return z3.And([boolean(part) for part in parts])
        case Parallel(parts=parts):
            return z3.Or([boolean(part) for part in parts])


def same(one: z3.BoolRef, other: z3.BoolRef) -> bool:
    solver = z3.Solver()
    solver.add(one != other)
    return bool(solver.check() == z3.unsat)


@settings(max_examples=40, deadline=None)
@given(circuits(comments=False, leaves=16))
def test_each_rung_is_the_same_function_after_the_round_trip(circuit: Circuit) -> None:
    back = read(Source("list", write(circuit))).tree
    for before, after in zip(circuit.rungs, back.rungs, strict=True):
        assert same(boolean(before.network), boolean(after.network))


@settings(max_examples=60, deadline=None)
@given(networks(_DEVICES, leaves=16))
def test_the_complement_conducts_exactly_when_the_network_does_not(net: Network) -> None:
    """De Morgan's laws, down to the contacts."""
    assert same(boolean(complement(net)), z3.Not(boolean(net)))
    assert same(boolean(complement(complement(net))), boolean(net))


_LEVELS: st.SearchStrategy[Condition] = st.recursive(
    st.sampled_from(["A", "B", "C"]).map(lambda name: Signal(device=name)),
    lambda inner: st.one_of(
        inner.map(lambda c: Not(of=c)),
        st.lists(inner, min_size=2, max_size=3).map(lambda parts: And(of=tuple(parts))),
        st.lists(inner, min_size=2, max_size=3).map(lambda parts: Or(of=tuple(parts))),
    ),
    max_leaves=10,
)


def said(condition: Condition) -> z3.BoolRef:
    match condition:
        case Signal(device=name):
            return z3.Bool(name.casefold())
        case Rise(device=name):
            return z3.Bool(f"rise of {name}")
        case Not(of=part):
            return z3.Not(said(part))
        case And(of=parts):
            return z3.And([said(part) for part in parts])
        case Or(of=parts):
            return z3.Or([said(part) for part in parts])
        case _:
            return z3.BoolVal(True)


def leaf(part: Leaf) -> Network:
    assert isinstance(part, Signal)
    return contact(part.device)


@settings(max_examples=60, deadline=None)
@given(_LEVELS)
def test_contacts_say_what_the_condition_says(condition: Condition) -> None:
    assert same(boolean(network(condition, leaf)), said(condition))


@settings(max_examples=60, deadline=None)
@given(_LEVELS, _LEVELS, _LEVELS)
def test_terms_say_what_the_condition_says(a: Condition, b: Condition, c: Condition) -> None:
    for condition in (both(Rise(device="A"), a), both(a, either(both(Rise(device="B"), b), Rise(device="C"), c))):
        found = [z3.And(said(t.rest), said(Rise(device=t.rise)) if t.rise else True) for t in terms(condition)]
        assert same(z3.Or(found), said(condition))


def test_what_has_no_rise_keeps_its_shape() -> None:
    a, b = Signal(device="A"), Signal(device="B")
    assert terms(Not(of=Or(of=(a, b)))) == (Term(None, Not(of=Or(of=(a, b)))),)
    assert terms(Rise(device="A")) == (Term("A", Always()),)


def test_a_time_beside_the_contacts_it_times_gets_them_in_series() -> None:
    """Else the timed contact, which follows a moment late, would still be closed as its own contacts open."""
    a, b = Signal(device="A"), Signal(device="B")
    held = Sustained(of=a, time_us=1)
    assert terms(And(of=(held, b))) == (Term(None, And(of=(held, b))),)
    assert terms(And(of=(held, Not(of=a)))) == (Term(None, And(of=(And(of=(held, a)), Not(of=a)))),)
    assert terms(both(Rise(device="A"), held)) == (Term("A", And(of=(held, a))),)


def test_wires_and_repeated_branches_vanish() -> None:
    a, b = contact("A"), contact("B")
    assert series(WIRE, a, WIRE) == a
    assert series(series(a, b), a) == Series((a, b))
    assert parallel(a, WIRE) == WIRE
    assert parallel(a, parallel(b, a)) == Parallel((a, b))
    assert network(Always(), leaf) == WIRE
    with pytest.raises(Unfit, match="can never be true"):
        network(Not(of=Always()), leaf)


@settings(max_examples=60, deadline=None)
@given(networks(_DEVICES, leaves=16), networks(_DEVICES, leaves=4))
def test_without_idle_contacts_it_conducts_as_before(net: Network, before: Network) -> None:
    slim = without_idle(net, (before,))
    assert same(z3.And(boolean(before), boolean(slim)), z3.And(boolean(before), boolean(net)))
    assert not list(_idle(slim, _in_line(before)))


@pytest.mark.parametrize("stem", [path.stem for path in EXAMPLES])
def test_no_rung_of_an_example_has_a_contact_in_line_with_itself(stem: str) -> None:
    """Its masters included: such a contact takes a pole for nothing, and a reader takes it for a mistake."""
    made, _ = emit_all(example(stem), Options())
    found = [a for a in made if a.file.endswith(".rungs")]
    for artefact in found:
        for rung in read(Source(artefact.file, artefact.text)).tree.rungs:
            assert not list(_idle(rung.network, set())), f"{artefact.file}, rung {rung.number}"


def _in_line(net: Network) -> set[Contact]:
    return {part for part in (net.parts if isinstance(net, Series) else (net,)) if isinstance(part, Contact)}


def _idle(net: Network, before: set[Contact]) -> Iterator[Contact]:
    """Contacts behind one of the same device and form."""
    match net:
        case Contact():
            yield from {net} & before
        case Parallel(parts=parts):
            for part in parts:
                yield from _idle(part, before)
        case Series(parts=parts):
            yield from _in_line(net) & before
            inside = before | _in_line(net)
            for part in parts:
                yield from () if isinstance(part, Contact) else _idle(part, inside)
