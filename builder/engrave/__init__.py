"""From scores to ink: abjad writes the notation, LilyPond engraves it in batches."""
