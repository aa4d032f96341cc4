"""The names a program gives: how they are spelt, and which are outputs."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence import tree

__all__ = ["Names"]


@dataclass(frozen=True, slots=True)
class Names:
    """Declared spellings by folded name, every exact spelling, and the folded names of what can be on or off."""

    spellings: dict[str, str]
    exact: frozenset[str]
    loads: frozenset[str]

    @classmethod
    def of(cls, program: tree.Program) -> Names:
        """The names of a program. Where two differ in letter case only, the first sets the spelling."""
        inputs: list[str] = []
        loads: list[str] = []
        for node in program.declarations:
            match node:
                case tree.Cylinder():
                    inputs.append(node.name.text)
                    for item in node.items:
                        _of_attribute(item.attribute, inputs, loads)
                case tree.InputDevice() | tree.CounterDevice() | tree.Routine():
                    inputs.append(node.name.text)
                case tree.LoadDevice() | tree.SignalDevice():
                    loads.append(node.name.text)
                case tree.MotorDevice():
                    inputs.append(node.name.text)
                    loads += [node.forward.text, node.reverse.text]
                case tree.Cycle(station=tree.Name(text)):
                    inputs.append(text)
                case _:
                    pass
        spellings: dict[str, str] = {}
        for name in (*inputs, *loads):
            spellings.setdefault(name.casefold(), name)
        return cls(spellings, frozenset((*inputs, *loads)), frozenset(n.casefold() for n in loads))

    def spelt(self, name: tree.Name) -> str:
        """A name as its device spells it; a name nobody declares, as written."""
        return name.text if name.text in self.exact else self.spellings.get(name.text.casefold(), name.text)

    def is_load(self, name: tree.Name) -> bool:
        """Whether it can be on or off: a load, a solenoid, a signal. SOL1 and the like need no declaration."""
        folded = name.text.casefold()
        return folded in self.loads or (folded not in self.spellings and folded.startswith("sol"))


def _of_attribute(node: tree.Attribute, inputs: list[str], loads: list[str]) -> None:
    match node:
        case tree.SingleSolenoid() | tree.RapidSolenoid():
            loads.append(node.solenoid.text)
        case tree.DoubleSolenoid() | tree.ThreePosition():
            loads += [node.extends.text, node.retracts.text]
        case tree.LimitSwitch():
            inputs.append(node.switch.name.text)
        case tree.PressureSwitch():
            inputs.append(node.name.text)
        case _:
            pass
