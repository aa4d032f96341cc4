"""The names a unit declares, looked up without regard to letter case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum, auto

from grammar.structured_text.blocks import BLOCKS, Block, Kind
from grammar.structured_text.tree import (
    Assignment,
    Call,
    CaseStatement,
    Expression,
    IfStatement,
    Name,
    Section,
    Statement,
    Taken,
    Unit,
)

__all__ = ["Declared", "Role", "declarations", "declared", "key", "shared", "statements", "written"]

VALUES = {"BOOL": Kind.BOOL, "INT": Kind.INT, "TIME": Kind.TIME}


class Role(Enum):
    """What a variable has to do with the machine. ``EXTERNAL`` is declared elsewhere, outside the text."""

    INPUT = auto()
    OUTPUT = auto()
    OWN = auto()
    EXTERNAL = auto()


_BY_SECTION = {"VAR_INPUT": Role.INPUT, "VAR_OUTPUT": Role.OUTPUT, "VAR_EXTERNAL": Role.EXTERNAL}
_BY_ADDRESS = {"%I": Role.INPUT, "%Q": Role.OUTPUT}


@dataclass(frozen=True)
class Declared:
    """A declared name. ``kind`` is None for a block, ``block`` is None for a plain variable; ``type`` is the type
    in capitals, whatever it is; ``address`` is empty or such as ``%IX0.0``."""

    name: Name
    type: str
    section: str
    constant: bool
    initial: Expression | None
    address: str = ""

    @property
    def role(self) -> Role:
        """By the section, and by the address where the section does not tell."""
        return _BY_SECTION.get(self.section) or _BY_ADDRESS.get(self.address[:2], Role.OWN)

    @property
    def kind(self) -> Kind | None:
        return VALUES.get(self.type)

    @property
    def block(self) -> Block | None:
        return BLOCKS.get(self.type)


def key(name: Name) -> str:
    """What a name is looked up by."""
    return name.text.casefold()


def declared(unit: Unit) -> dict[str, Declared]:
    """Every declared name, by its key, in the order written. Of two alike the first counts.

    VAR_EXTERNAL names a variable of VAR_GLOBAL once more; where the text has that, that is what counts. A global
    variable is known without it too, unless the unit has another of that name.
    """
    found = shared(unit)
    own: dict[str, Declared] = {}
    for one in declarations(unit):
        if one.section != "VAR_EXTERNAL" or key(one.name) not in found:
            own.setdefault(key(one.name), one)
    return {where: one for where, one in found.items() if where not in own} | own


def shared(unit: Unit) -> dict[str, Declared]:
    """The variables of the VAR_GLOBAL sections before the unit, by key."""
    found: dict[str, Declared] = {}
    for section in unit.shared:
        for one in _of_section(section):
            found.setdefault(key(one.name), one)
    return found


def declarations(unit: Unit) -> Iterator[Declared]:
    """Every name as often as the unit itself declares it."""
    for section in unit.sections:
        yield from _of_section(section)


def _of_section(section: Section) -> Iterator[Declared]:
    constant = "CONSTANT" in section.qualifiers
    for one in section.declarations:
        for name in one.names:
            yield Declared(name, one.type.text.upper(), section.kind, constant, one.initial, one.address)


def statements(body: tuple[Statement, ...]) -> Iterator[Statement]:
    """The statements of a body and all inside them, in the order written."""
    for statement in body:
        yield statement
        match statement:
            case IfStatement(branches=branches, otherwise=otherwise):
                for branch in branches:
                    yield from statements(branch.body)
                yield from statements(otherwise or ())
            case CaseStatement(entries=entries, otherwise=otherwise):
                for entry in entries:
                    yield from statements(entry.body)
                yield from statements(otherwise or ())
            case _:
                pass


def written(unit: Unit) -> frozenset[str]:
    """The keys of all variables that a statement writes to."""
    keys: set[str] = set()
    for statement in statements(unit.body):
        match statement:
            case Assignment(target=target):
                keys.add(key(target))
            case Call(arguments=arguments):
                keys.update(key(a.target) for a in arguments if isinstance(a, Taken))
            case _:
                pass
    return frozenset(keys)
