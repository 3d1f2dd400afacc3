"""What may harm a player, measured. In: pictures as a player sees them, one after another. Out: findings, each against a published limit.

``flashes`` is the meter of flashing light; ``swings`` follows single pixels in time, ``areas`` adds them up over the screen. ``clips``
plays animations to it, ``advice`` says what it found. An aid for authors: it replaces no medical advice and no certified test.
"""
