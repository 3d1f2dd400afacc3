"""The boot notice. In: what it says, the links, what the target's screen is. Out: its blob and facts.

``bitmap`` draws it as one picture, ``tiles`` as tiles and a map; ``letters`` draws text for both, ``codes`` says whether the codes read.
"""
