"""Settings for the whole suite."""

from __future__ import annotations

import os

# Two test processes share the cores: linear algebra of this size is several times quicker on one thread each.
for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
