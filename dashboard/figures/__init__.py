"""Findings to figures, pure."""
