"""Words that everything told is made of: names in a row, contacts, rungs, times and places."""

from __future__ import annotations

import re
from collections.abc import Iterable

from grammar.rungs.tree import Contact, Form

__all__ = ["capital", "contact_words", "listed", "lowered", "named_contacts", "place_words", "rung_words", "seconds"]


def listed(words: Iterable[str], last: str = "and") -> str:
    """``A``, ``A and B``, ``A, B and C``; each once."""
    parts = list(dict.fromkeys(words))
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} {last} {parts[-1]}" if parts else ""


_OWN = re.compile(
    r"the (operator|control supply|sequence|springs?|time|fault|pressure on) |rungs? \d|its N|springs return |"
    r"no switch sees |not \(|from now on |with its |everything |if |only |a fault |it goes on |all goes on |"
    r"on its way "
)


def capital(text: str) -> str:
    """A sentence, its first letter large where its first word is one of ours: the name of a device stays as it is."""
    return text[:1].upper() + text[1:] if _OWN.match(text) else text


def lowered(text: str) -> str:
    """The opposite of ``capital``, to go on with inside a sentence."""
    small = text[:1].lower() + text[1:]
    return small if _OWN.match(small) else text


def contact_words(contact: Contact) -> str:
    """A contact as it is written: ``START``, ``STOP NC``."""
    return contact.name.text if contact.form is Form.NO else f"{contact.name.text} {contact.form}"


def named_contacts(contacts: Iterable[Contact]) -> str:
    """Several contacts."""
    return listed(contact_words(c) for c in contacts)


def rung_words(numbers: Iterable[int]) -> str:
    """``rung 3``, ``rungs 1, 2 and 3``."""
    found = sorted(set(numbers))
    return f"{'rung' if len(found) == 1 else 'rungs'} {listed(map(str, found))}"


def seconds(at_us: int) -> str:
    """A moment, to the millisecond."""
    return f"{at_us / 1_000_000:.3f}".rstrip("0").rstrip(".") + " s"


def place_words(position_um: int) -> str:
    """A place of a rod, to the tenth of a millimetre."""
    return f"{position_um / 1000:.1f}".removesuffix(".0") + " mm"
