"""Sound as arrays: reading recordings, resampling, sample formats, levels.

``recording`` reads any sound file as one channel, by itself or with ``decoding`` (libsndfile, in a process of its own), whose files
``containers`` has looked through first; ``convert`` resamples and stores; ``level`` says how loud the result is. Before that a sound may
be changed by ``shaping``, and brought to one ``loudness`` with others by ``mixing``.
"""
