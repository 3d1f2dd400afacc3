"""What was found out before and is not found out again. In: all that a result depends on. Out: the result, where it is known.

``code``: the modules and libraries that a function reaches. ``results``: what was made of single frames, kept between builds.
"""
