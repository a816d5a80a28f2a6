"""One migration per file, in order."""
