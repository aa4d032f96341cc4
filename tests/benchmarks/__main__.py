"""``python -m tests.benchmarks``: how fast compiling, simulator, proof and papers are here. Nothing is asserted."""

from tests.benchmarks import compiling, papers, proof, scale, simulation

compiling.main()
simulation.main()
proof.main()
scale.main()
papers.main()
