"""The Chart: steps and transitions, the one statement of what the machine must do (IEC 60848:2013, from memory)."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag

from compiler.condition import Always, Condition

__all__ = [
    "Action",
    "ActionKind",
    "Chart",
    "Counting",
    "CountingKind",
    "Forcing",
    "Interlock",
    "Requirement",
    "Response",
    "Step",
    "Transition",
    "Words",
]


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


class CountingKind(StrEnum):
    """What a step does to a counter as it becomes active."""

    COUNT = "count one"
    CLEAR = "clear"


class Counting(_Model):
    """A stored action on a counter, carried out as its step becomes active. Clearing comes before counting; steps
    that become active at one moment count one together."""

    counter: str
    kind: CountingKind = CountingKind.COUNT


class Step(_Model):
    """A step. ``fault`` is the message shown while it is active, empty for an ordinary step."""

    name: str
    initial: bool = False
    actions: tuple[Action, ...] = ()
    counting: tuple[Counting, ...] = ()
    fault: str = ""
    words: Words = Words()


class Transition(_Model):
    """Clears when every source is active and its condition is true; then all targets become active.

    One source and one target make a sequence; several sources join parallel work, several targets start it. The
    steps in ``aborts`` are left as well, whether active or not (what leaving an enclosing step does, IEC 60848:2013);
    a transition out of a step that is aborted at the same moment does not clear, nor does a later one that would
    abort a source of this one.
    """

    name: str
    sources: tuple[str, ...] = Field(min_length=1)
    targets: tuple[str, ...] = Field(min_length=1)
    condition: Condition
    aborts: tuple[str, ...] = ()
    words: Words = Words()


class Interlock(_Model):
    """An output comes on only while the condition holds, whatever the steps command (enforced, not checked).

    In ``only_while`` a Signal of an output means that the steps command it, before any interlock: so two outputs that
    exclude each other both stay off when both are commanded. It holds no Rise.
    """

    output: str
    only_while: Condition
    words: Words = Words()


class Forcing(_Model):
    """While its condition holds, the chart is held in a situation, ahead of any evolution: in ``steps``, or, when
    that is empty, in its initial one (IEC 60848:2013 forcing orders ``{8,9}`` and ``{INIT}``).

    Dropping out into the initial situation is what STOP does unless told otherwise. A condition with a Rise forces
    once, and the chart goes on from there. Stored outputs go off; counters stay.
    """

    condition: Condition
    steps: tuple[str, ...] = ()
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
    """Steps, transitions and what STOP does. ``inputs`` and ``outputs`` name devices of the Machine, in its order.

    Several initial steps make several stations, each with steps of its own, that run side by side. A counter counts
    from 0 up to the greatest number that a condition asks of it and stays there; it forgets when the supply is lost.
    Transitions of which more than one can clear at a moment all clear (IEC 60848:2013 rule 4): what is meant to have
    priority says so in its condition.
    """

    title: str = ""
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    steps: tuple[Step, ...] = Field(min_length=1)
    transitions: tuple[Transition, ...] = ()
    forcing: Forcing | None = None
    counters: tuple[str, ...] = ()
    interlocks: tuple[Interlock, ...] = ()
    requirements: tuple[_Required, ...] = ()

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Every condition that runs the chart: of transitions, actions, forcing and interlocks (no requirements)."""
        forcing = () if self.forcing is None else (self.forcing.condition,)
        actions = (action.condition for step in self.steps for action in step.actions)
        interlocks = (interlock.only_while for interlock in self.interlocks)
        return (*(t.condition for t in self.transitions), *actions, *forcing, *interlocks)

    def step(self, name: str) -> Step:
        """The step of that name. Raises KeyError if there is none."""
        for step in self.steps:
            if step.name == name:
                return step
        raise KeyError(name)
