"""The sheet set: one page that holds everything a build has to show, to read on a screen and to print."""

from targets.sheet_set.page import sheet_set

__all__ = ["sheet_set"]
