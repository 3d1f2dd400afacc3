"""Pictures made smaller. In: RGBA frames. Out: RGBA frames of another size; ``scale`` chooses, ``votes`` and ``weights`` compute.

``placed`` puts one picture over another at any place and scale.
"""
