"""The rooms of the history machine; ``tests.bench.histories`` is its door.

``toml_text`` writes documents, ``opening`` is the project a history begins with, ``values`` gives every key of every record random
values, ``world`` keeps a project on disk and applies operations to it, ``moves`` draws operations, ``warm`` runs builds, ``machine``
compares and shrinks, ``shell`` writes a history as commands, ``mistakes`` patches the tool to see whether the machine notices.
"""
