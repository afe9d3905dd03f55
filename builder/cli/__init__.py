"""The command line: arguments and messages, nothing else."""

from .main import main

__all__ = ["main"]
