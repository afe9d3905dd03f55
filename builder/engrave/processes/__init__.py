"""The engraver and the processes that run it: found, started, watched, and given work."""
