"""Pictures as arrays. Pure: arrays in, arrays out; nothing here reads a file or knows a project.

Rooms: ``scaling``, ``colours``, ``pieces`` (a frame covered by cells), ``tiles``. Here: ``cells`` and ``pack`` (pixels to bytes),
``glyphs``, and the model of a television: ``composite`` and ``tube_photo``, with ``near_diagonal`` for their products.
"""
