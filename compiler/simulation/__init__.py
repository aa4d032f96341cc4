"""Running a machine on paper: its plant, the logics that drive or shadow it, and the record of what happened.

Nothing here judges: whether a run shows what it should is the business of ``compiler.checking``.
"""
