"""A clock for Logics: plays a history of inputs to one or more of them, side by side, each with its own timers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from compiler.logic import Bits, Chattering, Logic, Reaction

__all__ = ["Player", "play_both", "trace"]

CHATTERS = "chatters"


@dataclass
class Player:
    """One Logic and the deadlines of its running timers, in microseconds."""

    logic: Logic
    state: object = None
    outputs: Bits | str = ()
    due: dict[int, int] = field(default_factory=dict)

    def power_up(self, inputs: Bits, now: int) -> None:
        self._take(lambda: self.logic.power_up(inputs), now)

    def react(self, inputs: Bits, now: int, *, expiring: bool = True) -> None:
        if self.outputs == CHATTERS:
            return
        expired = frozenset(k for k, at in self.due.items() if at == now and expiring)
        self._take(lambda: self.logic.react(self.state, inputs, expired), now)

    def _take(self, reaction, now: int) -> None:  # type: ignore[no-untyped-def]  # a thunk, used twice above
        try:
            found: Reaction = reaction()
        except Chattering:
            self.outputs, self.due = CHATTERS, {}
            return
        self.state, self.outputs = found.state, found.outputs
        kept = {k: at for k, at in self.due.items() if k in found.running}
        self.due = kept | {k: now + self.logic.timers[k].preset_us for k in found.started}
        assert set(self.due) == found.running
        assert all(at > now for at in self.due.values()), "an expired timer still runs"


def _next(players: Sequence[Player], until: int) -> int:
    return min([until, *(at for player in players for at in player.due.values())])


def play_both(
    first: Logic,
    second: Logic,
    history: Iterable[tuple[int, Bits]],
    *,
    joint: bool = True,
    at_first: Bits | None = None,
) -> str | None:
    """What differs first, in words, or None. ``history`` holds pauses in microseconds and the inputs after them.

    ``at_first``: the inputs as the supply comes on, all off where nothing is said. ``joint``: inputs that change at
    one instant, or as a timer expires, are seen in one reaction; otherwise in one reaction each.
    """
    players = [Player(first), Player(second)]
    now, inputs = 0, at_first or (False,) * len(first.inputs)
    for player in players:
        player.power_up(inputs, now)
    for pause, following in [*history, (100_000_000, inputs)]:
        until = now + pause
        while (now := _next(players, until)) < until:
            _react(players, inputs, now)
            if players[0].outputs != players[1].outputs:
                return _told(players, inputs, now)
        if not joint and any(now in player.due.values() for player in players):
            _react(players, inputs, now)
        for changed in [following] if joint else _one_by_one(inputs, following):
            inputs = changed
            _react(players, inputs, now)
            if players[0].outputs != players[1].outputs:
                return _told(players, inputs, now)
        if players[0].outputs == CHATTERS:
            return None
    return None


def _one_by_one(before: Bits, after: Bits) -> list[Bits]:
    steps = [(*after[:k], *before[k:]) for k in range(1, len(after) + 1) if after[k - 1] != before[k - 1]]
    return steps or [after]


def _react(players: Sequence[Player], inputs: Bits, now: int) -> None:
    for player in players:
        player.react(inputs, now)


def _told(players: Sequence[Player], inputs: Bits, now: int) -> str:
    return f"at {now} us, inputs {inputs}: " + " but ".join(
        f"{p.logic.name} {p.outputs} ({p.state if p.outputs == CHATTERS else p.logic.lit(p.state)})" for p in players
    )


def trace(logic: Logic, history: Iterable[tuple[int, Bits]], until: int) -> list[tuple[int, Bits | str]]:
    """Each moment the outputs change, and the outputs from then on. Times of ``history`` are absolute."""
    player = Player(logic)
    events = dict(history)
    inputs = events.get(0, (False,) * len(logic.inputs))
    player.power_up(inputs, 0)
    changes: list[tuple[int, Bits | str]] = [(0, player.outputs)]
    now = 0
    while True:
        now = min([at for at in (*events, *player.due.values(), until) if at > now], default=until)
        if now >= until:
            return changes
        inputs = events.get(now, inputs)
        player.react(inputs, now)
        if player.outputs != changes[-1][1]:
            changes.append((now, player.outputs))
