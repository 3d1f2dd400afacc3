"""What an author wrote. Records of every file of a project, and ``model``: the checked whole that later rooms get.

``file``, ``assets``, ``intake`` and ``plan`` are tables of ``project.toml``; ``issues``, ``ledger``, ``testers`` and ``words`` (what
changed) are files beside it; ``wording`` is the packet's language; ``art`` and ``pad_shapes`` say what some keys mean.
"""
