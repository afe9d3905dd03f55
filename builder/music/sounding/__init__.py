"""What sounds when: times, tempos, repeats, dynamics, ornaments, and the performance of a score."""
