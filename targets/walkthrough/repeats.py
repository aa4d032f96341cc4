"""Passes of a repeat: the first is told in full, later ones as far as they differ, and then what ends them."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.walk.course import Passes
from targets.walkthrough.told import Passage, Sentence
from targets.walkthrough.words import seconds

__all__ = ["folded"]

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def folded(passages: Iterable[Passage], repeats: tuple[Passes, ...]) -> tuple[Passage, ...]:
    """The passages of a cycle with those of later passes left out, or cut to what is new in them; after the first
    pass it is said how many follow."""
    found: list[Passage] = []
    told: dict[int, list[str]] = {}
    for passage in passages:
        at_us = passage.at_us
        if at_us is None:
            found.append(passage)
            continue
        told[at_us] = [sentence.text for sentence in passage.sentences]
        like = next((us for one in repeats if (us := one.like(at_us)) is not None), None)
        if like is None or like not in told:
            found.append(passage)
        else:
            found += _new(passage, like, told[like])
        found += [_again(one) for one in repeats if one.begun_us[1] == at_us]
    return tuple(found)


def _new(passage: Passage, like_us: int, told: list[str]) -> list[Passage]:
    """What a passage tells that the one it is like did not."""
    new = tuple(s for s in passage.sentences if s.text not in told)
    if not new:
        return []
    as_then = Sentence(f"As at {seconds(like_us)}, but for this.")
    return [Passage((as_then, *new), passage.at_us, passage.heading)]


def _again(repeat: Passes) -> Passage:
    more = len(repeat.begun_us) - 1
    number = _NUMBERS[more] if more < len(_NUMBERS) else str(more)
    passes = f"{number} more pass goes" if more == 1 else f"{number} more passes go"
    return Passage((Sentence(f"{passes.capitalize()} the same way, until {seconds(repeat.over_us)}."),))
