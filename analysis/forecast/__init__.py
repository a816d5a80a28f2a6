"""Where the inside is heading: courses the room may take, and what the frame makes of them."""
