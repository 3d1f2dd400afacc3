"""What may harm a player, found in the game itself. In: the image, read back. Out: a file for each thing measured, and one list of all.

``animations``, ``backgrounds`` and ``effects`` measure, ``shown`` brings back what was on the screen then; ``scenes`` adds up what a scene
shows together, ``collect`` makes the list that report, preflight and packet read. ``safety`` holds the limits and knows no files.
"""
