"""What two rooms must agree on: the names and layouts of what one leaves and another takes up.

``layouts`` holds the tables of every blob, for the writer and for the reader; ``facts`` the records of what conversion found out;
``packed`` and ``build_names`` the names of files in a build;
``notice``, ``codes``, ``links`` and ``pixel_size`` the boot notice, its codes, and how large a pixel is shown.
"""
