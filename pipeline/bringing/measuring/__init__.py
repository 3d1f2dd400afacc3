"""What one picture shows, measured: pixels in, a ``Look`` out; no name of a file and no other picture counts.

In: pixels, uint8, shape (height, width, 4). Out: ``measure.measure`` returns a ``shapes.Look``: what is drawn, the colour that means
nothing, grids that fit, figures apart from one another. ``cells`` finds cells that nothing clear parts.
"""
