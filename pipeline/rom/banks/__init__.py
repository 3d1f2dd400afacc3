"""Packing assets into banks. In: sizes and free gaps. Out: places in few banks; ``bound`` says how few there can be. Pure."""
