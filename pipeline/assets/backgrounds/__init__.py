"""Backgrounds. In: a picture with parts laid over it, and a palette. Out: a blob as bitmap or tiles, and what the other form would take."""
