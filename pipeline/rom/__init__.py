"""The image: placed, written, and read back. Knows blobs and facts, not how they were made."""
