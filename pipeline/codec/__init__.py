"""Compression that a console can undo: encoders, and decoders that check what was encoded. Pure: bytes in, bytes out."""
