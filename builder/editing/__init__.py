"""Help for editors: what is wrong in an exercise as it is typed, which words may follow, what a word means.

It knows the text language and a book's settings, and nothing of engraving or of the site. `server.py` alone
knows the Language Server Protocol.
"""
