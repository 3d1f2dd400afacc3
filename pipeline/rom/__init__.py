"""The image, written. In: blobs and facts. Out: image, map, include files, the C reader, files for burning.

``layout`` and ``banks`` place; ``image`` and ``checksum`` write; ``steps`` are the two steps; ``bank_use`` counts.
"""
