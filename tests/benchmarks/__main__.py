"""``python -m tests.benchmarks``: how fast compiling, simulator, check and proof are here. Nothing is asserted."""

from tests.benchmarks import compiling, proof, scale, simulation

compiling.main()
simulation.main()
proof.main()
scale.main()
