"""The text language: its grammar, and the line and column of every fault.

It imports nothing of engraving or of the site.
"""
