"""Backgrounds. In: one scaled picture and a palette. Out: a blob as a bitmap or as tiles, and what the other form would take."""
