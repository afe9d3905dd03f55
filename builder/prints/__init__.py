"""Prints: what stands on paper of a book, of a key, of a selection and of daily sets, as rows for pages.

It knows nothing of the site and nothing of how pages are laid out.
"""
