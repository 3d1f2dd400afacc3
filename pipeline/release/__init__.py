"""Handing a build out: build code, packet, notes, kit. Reads maps and facts, never the sources' pixels."""
