"""Whole structured text programs, made sound, for tests with hypothesis."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import strategies as st

from grammar.structured_text.blocks import BLOCKS, Kind
from grammar.structured_text.tree import (
    Assignment,
    Boolean,
    Branch,
    Call,
    CaseStatement,
    Chain,
    Declaration,
    Duration,
    Empty,
    Entry,
    Expression,
    Given,
    IfStatement,
    Integer,
    Label,
    Link,
    Name,
    Negation,
    Negative,
    Pin,
    PinAssignment,
    ReturnStatement,
    Section,
    Statement,
    Taken,
    Unit,
    Variable,
)

__all__ = ["NAMES", "UNTIMED", "units"]

BOOLS = [Name(n) for n in ("x1", "flag", "_Aux", "passing", "Far", "SOL1", "SOL2")]
INTS = [Name(n) for n in ("StepNo", "n2", "brief")]
INPUTS = [Name(n) for n in ("START", "Ls_1")]
CONSTANT = Name("UPPER")
INSTANCES = {kind: Name(f"b{kind}") for kind in BLOCKS}
UNTIMED = tuple(kind for kind in BLOCKS if "PT" not in BLOCKS[kind].inputs)
NAMES = [*BOOLS, *INTS, *INPUTS, CONSTANT, *INSTANCES.values()]

int_atoms: st.SearchStrategy[Expression] = st.one_of(
    st.sampled_from(["2", "16#FF", "INT#5", "1_000", "2#101"]).map(Integer),
    st.sampled_from([*INTS, CONSTANT]).map(Variable),
    st.just(Pin(INSTANCES["CTU"], Name("CV"))),
)


def _chain(operands: st.SearchStrategy[Expression], level: tuple[str, ...]) -> st.SearchStrategy[Expression]:
    links = st.lists(st.builds(Link, st.sampled_from(level), operands), min_size=1, max_size=2).map(tuple)
    return st.builds(Chain, operands, links)


ints = st.recursive(
    int_atoms,
    lambda inner: st.one_of(inner.map(Negative), _chain(inner, ("+", "-")), _chain(inner, ("*", "/", "MOD"))),
    max_leaves=4,
)
comparison = st.builds(
    lambda a, op, b: Chain(a, (Link(op, b),)), ints, st.sampled_from(["<", ">", "<=", ">=", "=", "<>"]), ints
)
# In which steps something is on, as it is mostly said.
in_step = st.builds(lambda n: Chain(Variable(INTS[0]), (Link("=", Integer(str(n))),)), st.integers(0, 9))
steps = _chain(in_step, ("OR",))


def _bools(blocks: Sequence[str]) -> st.SearchStrategy[Expression]:
    pins = [(kind, pin) for kind in blocks for pin, of in BLOCKS[kind].outputs.items() if of is Kind.BOOL]
    atoms: st.SearchStrategy[Expression] = st.one_of(
        st.booleans().map(Boolean),
        st.sampled_from([*BOOLS, *INPUTS]).map(Variable),
        st.sampled_from(pins).map(lambda pin: Pin(INSTANCES[pin[0]], Name(pin[1]))),
        st.sampled_from(["BOOL#1", "0"]).map(Integer),
    )
    return st.recursive(
        atoms | comparison | steps,
        lambda inner: st.one_of(
            inner.map(Negation), *(_chain(inner, level) for level in (("AND",), ("XOR",), ("OR",), ("=", "<>")))
        ),
        max_leaves=5,
    )


def _plain(bools: st.SearchStrategy[Expression], blocks: Sequence[str]) -> st.SearchStrategy[Statement]:
    of_kind = {
        Kind.BOOL: bools, Kind.INT: ints, Kind.TIME: st.just(Duration("t#1m30s")),
    }  # fmt: skip
    inputs = [(kind, pin) for kind in blocks for pin in BLOCKS[kind].inputs]

    @st.composite
    def calls(draw: st.DrawFn) -> Statement:
        kind = draw(st.sampled_from(blocks))
        pins = BLOCKS[kind].inputs.items()
        given_pins = [Given(Name(pin), draw(of_kind[k])) for pin, k in pins if pin == "PT" or draw(st.booleans())]
        outputs = sorted(pin for pin, k in BLOCKS[kind].outputs.items() if k is Kind.BOOL)
        taken = [Taken(Name(pin), draw(st.sampled_from(BOOLS))) for pin in outputs if draw(st.booleans())]
        return Call(INSTANCES[kind], (*given_pins, *taken))

    @st.composite
    def pins(draw: st.DrawFn) -> Statement:
        kind, pin = draw(st.sampled_from(inputs))
        return PinAssignment(Pin(INSTANCES[kind], Name(pin)), draw(of_kind[BLOCKS[kind].inputs[pin]]))

    return st.one_of(
        st.just(Empty()),
        st.builds(Assignment, st.sampled_from(BOOLS), bools),
        st.builds(Assignment, st.sampled_from(INTS), ints),
        calls(),
        pins(),
        st.just(ReturnStatement()),
    )


def _compound(
    inner: st.SearchStrategy[Statement], bools: st.SearchStrategy[Expression]
) -> st.SearchStrategy[Statement]:
    body = st.lists(inner, max_size=2).map(tuple)
    branch = st.builds(Branch, bools, body)
    labels = st.lists(st.integers(-50, 50), unique=True, min_size=1, max_size=4).map(sorted)

    @st.composite
    def case(draw: st.DrawFn) -> Statement:
        numbers = [Integer(str(n)) if n >= 0 else Negative(Integer(str(-n))) for n in draw(labels)]
        entries = tuple(Entry((Label(n),), draw(body)) for n in numbers)
        wide = (Entry((Label(Integer("60"), Variable(CONSTANT)), Label(Integer("80"))), draw(body)),)
        return CaseStatement(draw(ints), entries + wide, draw(st.none() | body))

    ifs = st.builds(IfStatement, st.lists(branch, min_size=1, max_size=3).map(tuple), st.none() | body)
    return st.one_of(ifs, case())


SHARED = (Section("VAR_GLOBAL", (), (Declaration((Name("Far"),), Name("BOOL"), None, "%MX1.0"),)),)
SECTIONS = (
    Section("VAR_INPUT", (), (Declaration((INPUTS[0],), Name("BOOL")),)),
    Section("VAR", (), (Declaration((INPUTS[1],), Name("BOOL"), None, "%IX0.1"),)),
    Section("VAR_OUTPUT", (), (Declaration((Name("SOL1"),), Name("BOOL"), Boolean(True)),)),
    Section("VAR", (), (Declaration((Name("SOL2"),), Name("BOOL"), None, "%QX0.0"),)),
    Section("VAR_EXTERNAL", (), (Declaration((Name("Far"),), Name("BOOL")),)),
    Section("VAR", ("RETAIN",), (Declaration(tuple(BOOLS[:3]), Name("bool"), Boolean(True)),)),
    Section("VAR_TEMP", (), (Declaration((Name("passing"),), Name("BOOL"), Boolean(True)),
                             Declaration((INTS[2],), Name("INT"), Integer("3")))),
    Section("VAR", ("CONSTANT",), (Declaration((CONSTANT,), Name("INT"), Integer("70")),)),
    Section("VAR", (), (Declaration((INTS[0],), Name("INT"), Integer("10")), Declaration((INTS[1],), Name("INT")))),
    Section("VAR", (), tuple(Declaration((name,), Name(kind)) for kind, name in INSTANCES.items())),
    Section("VAR", ("CONSTANT",), (Declaration((Name("dwell"),), Name("TIME"), Duration("T#2s")),)),
)  # fmt: skip


def units(blocks: Sequence[str] = tuple(BLOCKS), longest: int = 4) -> st.SearchStrategy[Unit]:
    """Units that call those blocks, with bodies of so many statements."""
    bools = _bools(blocks)
    statements: st.SearchStrategy[Statement] = st.recursive(
        _plain(bools, blocks), lambda inner: _compound(inner, bools), max_leaves=6
    )
    return st.builds(
        Unit,
        st.sampled_from(["FUNCTION_BLOCK", "PROGRAM"]),
        st.just(Name("Press_1")),
        st.just(SECTIONS),
        st.lists(statements, max_size=longest).map(tuple),
        st.just(SHARED),
    )
