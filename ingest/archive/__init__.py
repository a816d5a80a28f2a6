"""The archive: originals, readings and the register that ties them together."""
