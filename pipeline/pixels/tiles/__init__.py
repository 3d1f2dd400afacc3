"""A picture as tiles and a map. In: indices. Out: distinct tiles, a map, and palettes by tile.

``tiles`` cuts; ``merge`` makes fewer by ``thinning`` and ``medoids``, and ``loss`` measures; ``palettes`` deals colours to lines by
``dealing`` and ``packing``, ``lines`` maps to them; ``compare`` counts what a window over the map needs.
"""
