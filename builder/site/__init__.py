"""The site: MkDocs's events, what is served, and the change from an old site to a new.

It knows nothing of how notes are engraved.
"""
