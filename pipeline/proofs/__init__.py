"""Pictures to look at. In: the image's own bytes, decoded. Out: PNGs; ``write`` draws one of everything, one module for each kind."""
