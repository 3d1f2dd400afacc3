"""A frame covered by few cells. In: a mask. Out: places of cells; ``pieces`` is the door, ``cover`` searches with ``bands``,
``prices`` and ``search``; ``boxes`` finds what a frame's opaque pixels take.
"""
