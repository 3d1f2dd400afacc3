"""Each kind of asset read back, in a module of its own that ``target.kinds`` names. In: a blob's bytes and the target. Out: what it holds.

``decode_KIND`` knows the bytes and the target alone. ``compare_KIND`` then returns what differs from the facts that conversion wrote.
"""
