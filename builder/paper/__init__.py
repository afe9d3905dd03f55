"""Prints: engraved pieces and engraved words, laid out on pages, numbered and bound as one PDF.

It knows nothing of the site and nothing of how notes are engraved.
"""
