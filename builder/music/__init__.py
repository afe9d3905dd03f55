"""Pitches, keys, scores, instruments and transpositions: pure functions on frozen values.

It knows no files, no engraver and no HTML.
"""
