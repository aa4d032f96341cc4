"""``python -m tests.benchmarks``: how fast the simulator, the check and the proof are here. Nothing is asserted."""

from tests.benchmarks import proof, scale, simulation

simulation.main()
proof.main()
scale.main()
