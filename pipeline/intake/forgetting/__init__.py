"""Removing what one person sent: who they are by number, name and address (``persons``), and what of them is kept (``erase``)."""
