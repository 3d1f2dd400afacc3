"""What is asked of a project, and converts if it must: each a step that always runs and answers in text.

``fit``, ``savings`` (by ``changes``) and ``trial`` (the steps of a changed project, apart from the build); ``growth``, ``where``, ``why``;
and ``start``, a new project.
"""
