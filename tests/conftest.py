"""Settings for the whole suite."""

from __future__ import annotations

import os

from hypothesis import settings

# Two test processes share the cores: linear algebra of this size is several times quicker on one thread each.
for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")

# The gate draws the same examples at every run; whoever runs the suite by hand draws new ones.
settings.register_profile("gate", derandomize=True)
if "ISOHUME_CI" in os.environ:
    settings.load_profile("gate")
