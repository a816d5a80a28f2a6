"""Readings become findings: pure functions and frozen results, no files, no clock, no global state."""
