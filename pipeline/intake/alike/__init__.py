"""How likely two short texts are of one bug, and what groups follow: texts come in, log-odds, reasons and groups go out.

Public: ``likeness.Likeness`` compares texts, ``linkage.groups_of`` groups them, ``asking.ask`` says what to ask about them next,
``sentences.encoder`` finds what compares meanings (``network`` and ``pieces`` are the English one, ``gloss`` puts texts into English).
Knows texts, the project's names and buttons; no form, no report, no build.
"""
