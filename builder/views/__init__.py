"""What each page of the site shows, as plain values for its template.

It knows nothing of MkDocs and nothing of how a site is written.
"""
