"""A folder of art becomes part of a project: files looked at, grouped into assets with reasons, written as text, copies and a picture.

In: a folder of an author's pictures, sounds, fonts and palettes. Out: ``[sprite.NAME]`` and other tables as text, copies of the files, and
``build/found.png``. ``bring`` holds the two functions that steps call. ``look`` reads, with ``measuring``; ``names`` (with ``vocabulary``),
``group``, ``sheets``, ``guess`` and ``fit`` decide from what was read; ``places`` says where art goes; ``text``, ``needs`` and ``picture``
show; ``write`` alone changes the project. ``records`` holds what they hand one another.
"""
