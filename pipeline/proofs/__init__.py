"""Pictures to look at. In: the image's own bytes, decoded. Out: PNGs; ``write`` has them drawn by ``kinds``, ``thumbnail`` small ones.

``subject`` is what is drawn; ``canvas`` draws frames, text and boards, ``animated_png`` writes animations, and ``frame_pairs`` finds the
frames of two sheets that differ most.
"""
