"""Fuzzing by hand and in the gate: `python -m tests.fuzz.reader --seconds 60`."""
