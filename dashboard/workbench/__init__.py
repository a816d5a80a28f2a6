"""The tools of the workbench: what is typed, what is reckoned from it, and how it is shown."""
