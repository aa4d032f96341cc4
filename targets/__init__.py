"""Paper, not meaning: one folder for each kind of artefact, and the thin command line beside them.

A target folder emits text from a Chart and, where that text is an implementation, reads it back to a Logic.
Targets are found through the entry points group "rungwright.targets"; no target imports another.
"""
