"""Findings reach people: pages, figures, reports and commands."""
