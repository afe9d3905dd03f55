"""Pitches, keys, scores and travel: pure functions on frozen values, no files and no engraver."""
