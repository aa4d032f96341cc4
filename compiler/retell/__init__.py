"""From an implementation back to plain words: a Logic is tried out on its machine, and what it does is written down.

Nothing here looks inside a circuit or a program. It is worked like a machine in a trial run: something is pressed,
held back or let go, and what follows is seen. What is told is then compared with the original; where words do not
suffice, that is said.
"""
