"""The rung list: a relay circuit in plain words, as it would be typed from a paper ladder.

Reads and writes text and knows what a rung list must satisfy in itself; what a circuit does is the compiler's
business.
"""

from grammar.rungs.read import read
from grammar.rungs.tree import Circuit
from grammar.rungs.write import write

__all__ = ["Circuit", "read", "write"]
