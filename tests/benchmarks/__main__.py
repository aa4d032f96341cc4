"""``python -m tests.benchmarks``: how fast the simulator and the check are on this machine. Nothing is asserted."""

from tests.benchmarks.simulation import main

main()
