"""The archive, one folder: originals as received, readings derived from them, and the collection's register."""
