"""The commands of isohume, one module per family; cli.py assembles them."""
