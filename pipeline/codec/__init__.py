"""Compression that a console can undo. Bytes in, bytes out: encoders, decoders that check them, and ``choose``. Pure."""
