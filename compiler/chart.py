"""The Chart: steps and transitions, the one statement of what the machine must do (IEC 60848:2013, from memory)."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag

from compiler.condition import Always, Condition

__all__ = ["Action", "ActionKind", "Chart", "Forcing", "Requirement", "Response", "Step", "Transition", "Words"]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Words(_Model):
    """The words something came from: the phrase itself and its character offsets in the source text."""

    text: str = ""
    start: int = 0
    end: int = 0


class ActionKind(StrEnum):
    """A continuous action holds while its step is active; a stored one is written once and stays."""

    CONTINUOUS = "continuous"
    SET_ON_ENTRY = "set on entry"
    RESET_ON_ENTRY = "reset on entry"
    SET_ON_EXIT = "set on exit"
    RESET_ON_EXIT = "reset on exit"


class Action(_Model):
    """What a step does to one output. ``condition`` (continuous actions only) holds no Rise."""

    output: str
    kind: ActionKind = ActionKind.CONTINUOUS
    condition: Condition = Always()


class Step(_Model):
    """A step. ``fault`` is the message shown while it is active, empty for an ordinary step."""

    name: str
    initial: bool = False
    actions: tuple[Action, ...] = ()
    fault: str = ""
    words: Words = Words()


class Transition(_Model):
    """Clears when every source is active and its condition is true; then all targets become active.

    One source and one target make a sequence; several sources join parallel work, several targets start it.
    """

    name: str
    sources: tuple[str, ...] = Field(min_length=1)
    targets: tuple[str, ...] = Field(min_length=1)
    condition: Condition
    words: Words = Words()


class Forcing(_Model):
    """While its condition holds, the chart is held in its initial situation, ahead of any evolution
    (IEC 60848:2013 forcing order ``{INIT}``). This is what STOP does unless told otherwise."""

    condition: Condition
    words: Words = Words()


class Requirement(_Model):
    """Something that must never hold, in any situation that lasts. Without supply no requirement is judged, and
    what it remembers is lost."""

    name: str
    never: Condition
    words: Words = Words()

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Every condition it speaks of."""
        return (self.never,)


class Response(_Model):
    """Each time ``whenever`` comes true, ``then`` must hold at that moment or come true within ``within_us``.

    Broken from the moment the time is over until ``then`` holds. While it runs, ``whenever`` may come true again
    without beginning anything. What is true as the supply comes on has come true then (a Rise has not).
    """

    name: str
    whenever: Condition
    then: Condition
    within_us: int = Field(gt=0)
    words: Words = Words()

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Every condition it speaks of."""
        return (self.whenever, self.then)


def _kind(value: object) -> str:
    """Which of the two a requirement in JSON is, so that what is at fault in it is told of that one."""
    return "whenever" if isinstance(value, Response) or (isinstance(value, dict) and "whenever" in value) else "never"


_Required = Annotated[
    Annotated[Requirement, Tag("never")] | Annotated[Response, Tag("whenever")], Discriminator(_kind)
]


class Chart(_Model):
    """Steps, transitions and what STOP does. ``inputs`` and ``outputs`` name devices of the Machine, in its order."""

    title: str = ""
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    steps: tuple[Step, ...] = Field(min_length=1)
    transitions: tuple[Transition, ...] = ()
    forcing: Forcing | None = None
    requirements: tuple[_Required, ...] = ()

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Every condition that runs the chart: of transitions, of actions, and of the forcing (no requirements)."""
        forcing = () if self.forcing is None else (self.forcing.condition,)
        actions = (action.condition for step in self.steps for action in step.actions)
        return (*(t.condition for t in self.transitions), *actions, *forcing)

    def step(self, name: str) -> Step:
        """The step of that name. Raises KeyError if there is none."""
        for step in self.steps:
            if step.name == name:
                return step
        raise KeyError(name)
