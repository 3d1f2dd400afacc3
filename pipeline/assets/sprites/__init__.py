"""Sprites and pools. In: scaled frames and a palette. Out: blobs of sheets, trimmed frames or pieces, alone or in a pool."""
