"""A fuzzer by grammar: documents of every format the tool reads, damaged in structure and bytes, given to its own readers.

In: a seed and a number of cases. Out: for each format what was accepted and refused, and every case that ended in anything
but a result or a refusal in words. ``python -m tests.bench.fuzzing --help``. Public: ``registry.FORMATS``,
``runner.run_cases``, ``runner.shrunk``.
"""
