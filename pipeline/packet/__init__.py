"""The packet for testers. In: what ``content`` gathered. Out: a PDF, which ``document`` puts together and of which ``personal`` makes a
tester's own; and the same as a page, by ``web``.

Rooms, each above the one before: ``content`` (plain values), ``typeset`` (page, styles, tables, text), ``sections``.
"""
