"""Logger files become trustworthy, stored readings."""
