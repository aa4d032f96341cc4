"""The proof engine: two implementations closed round one machine, every run and every timing of them searched.

Nothing here prints and nothing here tries runs one at a time; what is found is replayed by the simulator.
"""
