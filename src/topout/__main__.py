"""`topout`: the command line; `topout serve` hands over to the workshop's pages."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status: 0, or 2 where something is to be mended."""
    from topout.cli.main import run

    return run(sys.argv[1:] if argv is None else list(argv), serve=_serve)


def _serve(arguments: Sequence[str]) -> int:
    """Start the workshop's pages in the browser."""
    from topout.web.serve import serve

    return serve(list(arguments))


if __name__ == "__main__":
    raise SystemExit(main())
