"""The notes of an exercise: from the words of its music to bars."""
