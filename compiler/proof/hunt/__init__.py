"""Runs tried at random, where there are too many to search them all: what they meet is really met. Each run is a
Scenario that the simulator replays."""
