"""Whether a step must run. In: steps and the records of earlier runs. Out: reasons.

``compare`` checks a step; ``unchanged`` says, before there are steps, that nothing changed at all.
"""
