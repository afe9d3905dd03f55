"""Melodies of other programs as exercises: music21 reads a file in a process of its own, and text is written.

`bring_in.py` starts the process and checks its answer. `tune_file.py` reads the file before music21 sees it.
`reader.py` is the process, `parts.py` reads what music21 made, and `shaping.py` makes bars of the language.
"""
