"""``python -m tests.benchmarks``: how fast compiling, simulator, proof and papers are here. Nothing is asserted."""

from tests.benchmarks import compiling, papers, proof, scale, simulation, textbook

compiling.main()
simulation.main()
textbook.main()
proof.main()
scale.main()
papers.main()
