"""Colours. In: RGB pixels and bit patterns. Out: console words, palettes, indices, and how far a colour is from another.

``colour`` converts words; ``quantise`` chooses a palette, by ``exchange``; ``apply`` maps pixels to it, by ``dither``, ``mixture`` and
``dot_diffusion`` where that is asked for or needed;
``difference`` measures, in the space of ``light``; ``numbers`` are the tables of both; ``palette_text`` reads palettes written as text.
"""
