"""Romwright: from art and sound to a ROM image and a kit for testers."""

__version__ = "0.1.0"
