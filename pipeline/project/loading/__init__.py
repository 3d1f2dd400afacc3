"""Reading a project. In: its folder. Out: a ``LoadedProject`` that nothing downstream checks again, or every problem at once.

``load`` reads; ``defaults`` completes; ``sources`` and ``sizes`` look at files; ``across`` and the others check what must agree.
"""
