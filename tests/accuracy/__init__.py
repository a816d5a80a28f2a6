"""Accuracy runs on simulated frames: commands that print tables, `python -m tests.accuracy --help`."""
