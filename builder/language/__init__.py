"""The text language: its grammar, and the line and column of every fault."""
