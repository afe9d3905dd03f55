"""Daily sets: what to play today, over so many days, and what a book or a plan of it practises.

Pure functions on frozen values. This room knows the music and the plan of a book's pages; it knows nothing
of files, of paper or of the site.
"""
