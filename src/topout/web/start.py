"""What `manage.py bench` needs to know before Django reads its settings: its options become the environment.

A workshop and the demo have a database each, both in one folder – `.run` beside `manage.py`, the user's own data folder for
`topout serve` – unless TOPOUT_DATABASE says where.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path


def options(parser: argparse.ArgumentParser) -> None:
    """The options of the start command; the command itself declares the same, for `--help`."""
    parser.add_argument("--demo", action="store_true", help="open the demo workshop, made on its first start")
    parser.add_argument("--port", help="port to serve, default 8000")
    parser.add_argument(
        "--bind", help="address to serve, default 127.0.0.1; on any other, nothing is shown without sign-in"
    )


def prepare(arguments: list[str], folder: Path) -> None:
    """Put the options of `bench` into the environment, before settings are read; no file made from here on is for others."""
    os.umask(0o077)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "topout.web.settings")
    demo = False
    if arguments[:1] == ["bench"]:
        parser = argparse.ArgumentParser(add_help=False, exit_on_error=False, allow_abbrev=False)
        options(parser)
        try:
            known, _ = parser.parse_known_args(arguments[1:])
        except argparse.ArgumentError:
            return  # the command's own parser says what is wrong
        demo = known.demo
        for name, value in (("TOPOUT_PORT", known.port), ("TOPOUT_BIND", known.bind)):
            if value is not None:
                os.environ[name] = value
        if demo:
            os.environ["TOPOUT_DEMO"] = "1"
    demo = demo or os.environ.get("TOPOUT_DEMO") == "1"
    os.environ.setdefault("TOPOUT_DATABASE", str(folder / ("demo.sqlite3" if demo else "workshop.sqlite3")))
