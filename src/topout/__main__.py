"""`topout`: the command line; what needs the workshop's records is handed over to the web."""

from __future__ import annotations

import gc
import sys

TYPE_CHECKING = False  # typing's own costs its import
if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Final

_OBJECTS: Final = 50_000


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status: 0, or 2 where something is to be mended."""
    # What a command imports stays; to look it all through for garbage every 700 objects takes a tenth of its time.
    gc.set_threshold(_OBJECTS)
    from topout.cli.main import run

    return run(sys.argv[1:] if argv is None else list(argv), of_workshop=_of_workshop)


def _of_workshop(arguments: Sequence[str]) -> int:
    """A command that needs the workshop's records."""
    from topout.web import commands

    return commands.run(arguments)


if __name__ == "__main__":
    raise SystemExit(main())
