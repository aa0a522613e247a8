"""The commands of `topout` that need the workshop's records, by name; each takes its options and returns an exit status."""

from __future__ import annotations

from collections.abc import Sequence


def run(arguments: Sequence[str]) -> int:
    """Run the command that stands first; only what it needs is imported."""
    name, *options = arguments
    if name == "serve":
        from topout.web.serve import serve

        return serve(options)
    raise ValueError(f"{name}: no command of the workshop")
