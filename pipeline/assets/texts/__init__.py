"""String tables: an author's files of texts, one for each language, read and turned into tables of a font's glyphs or of code points.

In: files of texts and the facts of a font. Out: a blob and its facts. ``read`` reads the files, ``convert`` makes the blob.
"""
