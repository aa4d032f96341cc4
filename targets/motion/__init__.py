"""Charts of a run: what was on when, and how the rods moved; as drawings, as a waveform file and as a table.

Everything is drawn from the record of a run and decides nothing. No target lives here.
"""

from targets.motion.differing import difference_chart
from targets.motion.distance import motion_time_chart
from targets.motion.step import motion_step_chart
from targets.motion.table import as_csv
from targets.motion.terminal import motion_step_text, motion_time_text
from targets.motion.timing import timing_chart
from targets.motion.value_changes import as_vcd

__all__ = [
    "as_csv",
    "as_vcd",
    "difference_chart",
    "motion_step_chart",
    "motion_step_text",
    "motion_time_chart",
    "motion_time_text",
    "timing_chart",
]
