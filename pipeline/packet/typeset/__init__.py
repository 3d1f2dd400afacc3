"""How a packet is set: page, styles, tables, letters, codes, pictures. Knows reportlab, not what a section is for."""
