"""A book's folder: its options in mkdocs.yml, its instruments, its exercises, and the pieces that they make.

It knows nothing of engraving, of pages or of commands.
"""
