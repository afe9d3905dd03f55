"""The files of a new book, as `stavewright init` writes them: data only.

In `mkdocs.yml`, `$name` marks what the teacher chooses. `publish.yml` is also the workflow of a clone.
"""
