"""Stavewright: a wind player's exercises, written once and engraved in every key."""

__version__ = "0.1.0"
