"""How the register came to its present tables, one step per file in `versions`."""
