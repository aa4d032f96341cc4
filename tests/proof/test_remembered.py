"""What a text comes to is the same whether or not anything is remembered of runs before."""

from __future__ import annotations

import random

from compiler.proof.induction.patterns import Patterns
from compiler.proof.induction.reading import Cases, Reader, text_of

LOOK = text_of("""\
def look(s, i, first):
    (c, d, t) = s
    x = i[0]
    m = x and not d or c
    n = m and (x or first)
    if m and not n: started.add(0)
    if n: d = not c
    else: t = NEXT[t]
    t += x + m
    t &= 3
    return (m, d, t), (m or d, n), n == c
""")
_LANES = 16


def a_value(patterns: Patterns, rng: random.Random, *, of: int) -> Cases:
    """Each lane has one of so many values; of two, False or True."""
    lanes = [rng.randrange(of) for _ in range(_LANES)]
    values = (False, True) if of == 2 else range(of)
    return {value: sum(1 << k for k, v in enumerate(lanes) if v == value) for value in values}


def test_a_reader_that_remembers_says_what_a_new_one_says() -> None:
    patterns, rng = Patterns(_LANES), random.Random(4)
    tables = {"bool": bool, "NEXT": (1, 2, 3, 0)}
    old = Reader(patterns, tables, patterns.true)
    arguments: dict[str, Cases | tuple[Cases, ...]] = {}
    alike = 0
    for number in range(300):
        state = tuple(a_value(patterns, rng, of=of) for of in (2, 2, 4))
        wire = (a_value(patterns, rng, of=2),)
        first = a_value(patterns, rng, of=2)
        if number % 3 == 0:
            arguments |= {"s": state, "first": first}
        if number % 3 < 2:
            arguments["i"] = wire
        new = Reader(patterns, tables, patterns.true)
        alike += len(old.remembered)
        old.started.clear()
        work = old.work
        assert old.run(LOOK, arguments) == new.run(LOOK, arguments)
        assert old.started == new.started
        assert old.work - work == new.work
    assert alike
