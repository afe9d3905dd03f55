"""Wind instruments: their ranges and registers, and their fingerings."""
