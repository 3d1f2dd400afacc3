"""The image, read back. In: its bytes and the target. Out: every asset as pixels, samples and colours, or what is wrong.

Shares no code with what writes, so that it can find its mistakes. ``reader`` finds entries, ``sums`` and ``unpack`` open them,
``kinds`` with ``pixels`` reads them into ``decoded``, ``show`` gives colours, ``verify`` with ``compare`` looks for the build's intent.
"""
