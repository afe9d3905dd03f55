"""The command line: arguments and messages, nothing else."""

from .main import command, main

__all__ = ["command", "main"]
