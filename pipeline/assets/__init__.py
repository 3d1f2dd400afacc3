"""One asset after another. In: source files and a project's records. Out: a blob in its layout, and its facts.

Rooms: ``sources`` (files to frames of the right size), ``sprites``, ``backgrounds``, ``fonts``, ``notices``. Here: the other kinds,
``art`` (what kinds with pixels share), ``blob`` (writing one), ``packing``, ``map_words``, ``intent`` (what
verification compares with), ``television``.
"""
