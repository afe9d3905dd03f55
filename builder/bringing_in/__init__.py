"""Melodies of other programs as exercises: a file is read by music21 in a process of its own and written as text.

`tune_file.py` looks at the file before music21 sees it, `reader.py` is the process, `parts.py` reads what music21
made, `shaping.py` makes bars of the language from it, and `melody_text.py` writes them.
"""
