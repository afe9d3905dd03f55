"""Pages: rows of engraved pieces and engraved words, laid out, numbered and bound as one PDF.

It knows nothing of books and exercises, and nothing of how notes are engraved.
"""
