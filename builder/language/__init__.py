"""The text language: its grammar, and the line and column of every fault.

It knows nothing of engraving or of the site.
"""
