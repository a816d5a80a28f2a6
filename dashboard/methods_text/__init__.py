"""How every figure is worked out: the words (TOML), the numbers they use (from the code), and the accuracy tables."""
