"""One module per page: layout and thin callbacks."""
