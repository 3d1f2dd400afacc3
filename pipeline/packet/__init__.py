"""The packet for testers. In: what ``content`` gathered. Out: a PDF; ``document`` puts it together, ``personal`` makes a tester's own.

Rooms, each above the one before: ``content`` (plain values), ``typeset`` (page, styles, tables, text), ``sections``.
"""
