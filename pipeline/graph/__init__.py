"""Running a build. In: a project's steps. Out: what they make, in order, and what a person sees of it. Only this room knows doit.

Rooms: ``steps`` (what there is to do) and ``freshness`` (what of it must be done). Here: ``front`` (doit's side), ``command`` (its
command line), ``plan``, ``perform``, ``workers``, ``database``, ``stopping``, ``streams``, ``consent``, ``prune``, ``progress`` with
``places`` and ``growth_log``.
"""
