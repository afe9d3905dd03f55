"""PDF files: what the engraver wrote is read, and finished pages are written."""
