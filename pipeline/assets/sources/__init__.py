"""Source pictures. In: files of artists. Out: scaled frames in one raw file (``prepared``), and a few as drawn (``sample``).

``pictures`` opens what is safe to open: ``file_frames`` and ``png_rows`` look first.
"""
