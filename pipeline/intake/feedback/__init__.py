"""Answers to the feedback form: what is a number among them (``numbers``), how they spread and what of a change is noise (``spread``),
which words go with low marks (``wording``), and all of it question by question (``answers``)."""
