"""How likely two short texts are of one bug, and what groups follow: texts come in, log-odds, reasons and groups go out.

Public: ``likeness.Likeness`` compares texts, ``linkage.groups_of`` groups them, ``sentences.encoder`` says whether meaning is compared or
words alone. Knows texts, the project's names and buttons; no form, no report, no build.
"""
