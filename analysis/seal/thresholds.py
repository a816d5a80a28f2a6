"""The numbers the seal check decides by, and where they come from."""

from __future__ import annotations

# What is granted to every record, and to the rivals of a changed seal; standard deviations before any reading.
DRIFT_SD_PERCENT_PER_ROOT_YEAR = 1.0  # common practice: capacitive sensors drift by about 1 %RH a year
DRIFT_KNOTS_DAYS = 45.0
OFFSET_STEP_SD_PERCENT = 3.0
OPENING_AIR_SD_PERCENT = 5.0
OPENING_PANEL_SD_PERCENT = 3.0
LEVEL_SD = 2.0  # of the leakage of the whole record over the fitted one
SHAPE_SDS = (1.5, 1.2)  # of the logarithms of τ₁₂/τ_leak and τ₂₁/τ₁₂, as in the fit

# When a change counts. Derived on simulated layered frames, `python -m tests.accuracy seal --grid --seed 3001`; how
# often sound and failing frames of other seeds pass stands in analysis/data/seal_accuracy.csv.
SMALLEST_FACTOR = 1.3  # design
# Two standard errors' worth of chance gives 2; monthly looks at a year of dates give more, and layered panels in rooms
# with a climate of their own still more.
LEAST_LOG_LIKELIHOOD_RATIO = 6.0
LEAST_BEYOND_RIVALS = 3.0  # the same where a rival at its own likeliest date is granted
# Standard errors by which ln(factor) must differ from 0. To the standard error by the information matrix is added what
# the structure of the model gets wrong from one season to the next.
STRUCTURE_SD = 0.1
LEAST_STANDARD_ERRORS = 3.2
POWER_SDS = 0.84  # quantile of the standard normal distribution that leaves 20 % above: found in four of five cases
RECENT_DAYS = 60.0  # design: a change of ×3 is to be found within 60 days at any season
LARGEST_USEFUL_FACTOR = 5.0  # a record that could show only a larger change says nothing about the seal

# Where a change is looked for.
LONGEST_DAYS = 400.0  # of record, from its end
BEFORE_DAYS = 21.0  # of record before the first date
AFTER_DAYS = 4.0  # and after the last
OLD_SPACING_DAYS, NEW_SPACING_DAYS = 7.0, 2.0
NEW_DAYS = 30.0  # the end of the record, searched more closely
REFINED_REACH_DAYS, REFINED_SPACING_DAYS = 6.0, 1.0
