"""An invented collection: its logger files, its register and the generator that made them."""
