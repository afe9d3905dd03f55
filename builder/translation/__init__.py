"""The book's own words in other languages: words that can be translated, and the catalogs that do it.

It knows nothing of music but the names of notes and keys.
"""
