"""What a console demands. In: a target file. Out: a checked ``Target``, whose records are the same for every room.

``loading`` finds and reads one; ``records`` are its tables, ``fields`` its header and directory, ``tiles`` its tile unit;
``checks`` is what must agree across them; ``burn_devices`` are sizes of EPROMs.
"""
