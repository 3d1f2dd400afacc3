"""Which tests call which functions of the tool: ``python -m tests.bench.callers FILE``; ``tests.bench.mutants`` then tries those first.

All tests run once, and every process of theirs writes down the functions of ``pipeline`` that it calls and for which test it does so.
``sitecustomize`` is in a folder of its own because Python imports it at the start of each process that finds it.
"""
