"""From scores to ink: abjad writes the notation, LilyPond engraves it in batches.

It knows nothing of the text language, of pages or of HTML.
"""
