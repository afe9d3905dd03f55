"""An exercise in one key for one instrument: transposed, spelled, and placed in an octave."""
