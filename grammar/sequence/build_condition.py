"""From parsed rules to the nodes of conditions."""

from __future__ import annotations

from grammar.sequence import tree
from grammar.sequence.parsed import Parsed, a, cond

__all__ = ["condition"]

_NEGATIVE = {"IS_NOT", "NOT"}
_OPPOSITE = {
    "pressed": "released",
    "held": "released",
    "released": "held",
    "made": "not made",
    "not made": "made",
    "on": "off",
    "off": "on",
    "open": "closed",
    "closed": "open",
}
_STATES = {
    "UNMADE": "not made",
    "AT_END": "at-end",
    "AT_HOME": "at-home",
    "EXTENDED": "at-end",
    "RETRACTED": "at-home",
}


def condition(parsed: Parsed) -> tree.Cond:
    """A condition, from the conditions inside it."""
    inner, span = parsed.inner, parsed.span
    match parsed.rule:
        case "any_of":
            return tree.AnyOf(tuple(cond(n) for n in inner), span=span)
        case "all_of":
            return tree.AllOf(tuple(cond(n) for n in inner), span=span)
        case "not_cond":
            return tree.NotCond(cond(inner[0]), span=span)
        case "sustained":
            return tree.Sustained(cond(inner[0]), a(tree.Quantity, inner[1]), span=span)
        case "has_reached":
            reached = tree.HasReached(parsed.names[0], int(parsed.tokens[-1]), span=span)
            return tree.NotCond(reached, span=span) if "HAS_NOT_REACHED" in parsed.kinds else reached
        case "state_is":
            return _state(parsed)
        case _:
            return tree.After(a(tree.Quantity, inner[0]), span=span)


def _state(parsed: Parsed) -> tree.Cond:
    names, kinds, span = parsed.names, parsed.kinds, parsed.span
    negated = _NEGATIVE & set(kinds) != set()
    states = [k for k in kinds if k not in _NEGATIVE]
    if states == ["AT_REST"]:
        rests = tree.AtRest(names[0], span=span)
        return tree.NotCond(rests, span=span) if negated else rests
    word = (_STATES.get(states[-1]) or states[-1].lower()) if states else "made"
    if word in ("at-end", "at-home"):
        return tree.PlaceIs(names[0] if names else None, word, negated, span=span)
    return tree.StateIs(names[0], _OPPOSITE[word] if negated else word, span=span)
