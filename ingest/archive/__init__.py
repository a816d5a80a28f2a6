"""The archive: originals as received, readings derived from them, and the register of the collection, in one folder."""
