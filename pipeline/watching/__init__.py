"""Building at every save. In: saves in a project's folder. Out: builds, and the report in a browser, refreshed after each.

``watch`` is the command's loop, in a process with threads that never forks. ``words`` are those of its command line; ``saves`` says which
files were saved, and when they are whole; ``builder`` starts and stops builds, which ``nursery`` forks in a process without threads that
has everything loaded. ``server`` hands out the ``page``, and what is ``known`` of the build goes to every open page.
"""
