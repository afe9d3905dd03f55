"""The command line: arguments and messages. It knows the insides of nothing else."""

try:
    from .main import command, main
except KeyboardInterrupt:
    # Before anything is begun there is nothing to tell.
    raise SystemExit(130) from None

__all__ = ["command", "main"]
