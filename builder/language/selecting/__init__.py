"""Text files that choose music of a book: selections to print, and students for daily sets."""
