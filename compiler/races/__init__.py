"""Race analysis: every order in which the relays of a circuit may pick up and drop out, and whether it matters.

``compiler.circuit`` lets all coils move at one instant; real contacts break before they make and no two relays are
equally quick. Nothing here knows of plants or of how likely an order is: the situations to look at are passed in.
"""

from compiler.races.clocks import RelayTimes
from compiler.races.find import LIMIT, races
from compiler.races.open_world import World, open_world
from compiler.races.race import Race, RaceKind, Races
from compiler.races.stimulus import Stimulus

__all__ = ["LIMIT", "Race", "RaceKind", "Races", "RelayTimes", "Stimulus", "World", "open_world", "races"]
