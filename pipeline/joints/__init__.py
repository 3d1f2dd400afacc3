"""What two rooms must agree on: the names and layouts of what one leaves and another takes up.

``map`` and ``budget`` are the files of those names, ``facts`` what conversion found out, ``fetched`` what a scene fetches of an asset
that it holds in part, all as records with a version; ``layouts`` holds the tables of every blob, for the writer and for the reader;
``places`` and ``build_names`` the names of files in a build; ``originals`` describes a background with parts at full detail;
``notice``, ``codes``, ``links`` and ``pixel_size`` the boot notice, its codes, and how large a pixel is shown.
"""
