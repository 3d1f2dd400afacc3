"""A folder of art becomes part of a project: files looked at, grouped into assets with reasons, written as text, copies and a picture.

In: a folder of an author's pictures, sounds, fonts and palettes. Out: ``[sprite.NAME]`` and other tables as text, copies of the files, and
``build/found.png``. ``bring`` holds the two functions that steps call; ``look`` and ``measure`` read, ``names``, ``group``, ``sheets``, ``guess``
and ``fit`` decide without reading anything, ``text`` and ``picture`` show, ``write`` alone changes the project.
"""
