"""`topout serve`: bring the database up to date, load the demo once, say where the workshop is, and serve it."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence

from topout.web import environment, start


def serve(arguments: Sequence[str]) -> int:
    """Open the workshop's pages and serve them until Ctrl-C. Returns the exit status."""
    return start.command(lambda: _serve(arguments))


def parser() -> start.Parser:
    """The options of `topout serve`."""
    made = start.parser("serve", "Serves the workshop's pages on this computer until Ctrl-C.")
    made.add_argument(
        "--port", type=_one(lambda values, name: values.port(name, 8000)), metavar="N", help="port (default: 8000)"
    )
    made.add_argument(
        "--bind",
        type=_one(lambda values, name: values.address(name, "127.0.0.1")),
        metavar="ADDRESS",
        help="address to serve (default: 127.0.0.1, this computer alone); on any other, nothing is shown without sign-in",
    )
    made.add_argument(
        "--host", action="append", default=[], type=_one(environment.Environment.hosts), metavar="NAME",
        help="a further name that may stand in the address, such as bench.example; may be repeated",
    )  # fmt: skip
    made.add_argument(
        "--behind-proxy", action="store_true",
        help="a proxy on this computer does the TLS, see docs/serving.md; needs --host with the name that it serves",
    )  # fmt: skip
    made.add_argument("--no-serve", action="store_true", help="stop before serving: the database is brought up to date")
    return made


def _one(check: Callable[[environment.Environment, str], object]) -> Callable[[str], str]:
    """The text of an option, looked at as the setting of the environment is."""

    def read(text: str) -> str:
        from django.core.exceptions import ImproperlyConfigured

        try:
            check(environment.Environment({"": text}), "")
        except ImproperlyConfigured as fault:
            raise argparse.ArgumentTypeError(str(fault).removeprefix("=")) from None
        return text

    return read


def _give_own_photos() -> None:
    """Before the settings say where the photos are: a database that shares its folder with others gets its own."""
    from django.core.exceptions import ImproperlyConfigured

    from topout.web.own_photos import give_own

    try:
        told = give_own(environment.files(environment.read()))
    except ImproperlyConfigured as fault:
        raise start.Refused(str(fault)) from None
    except OSError as fault:
        raise start.unusable(fault) from None
    if told:
        start.say(told)


def _serve(arguments: Sequence[str]) -> None:
    asked = start.read(parser(), arguments)
    for name, value in (("TOPOUT_PORT", asked.port), ("TOPOUT_BIND", asked.bind)):
        if value is not None:
            os.environ[name] = value
    if asked.host:
        before = os.environ.get("TOPOUT_HOSTS")
        os.environ["TOPOUT_HOSTS"] = ",".join([*asked.host, *([before] if before else [])])
    if asked.behind_proxy:
        os.environ["TOPOUT_BEHIND_PROXY"] = "1"
    _give_own_photos()
    start.set_up()
    from topout.web import opening, server, welcome
    from topout.web.access import preferences

    opening.open_database()
    workshop = opening.open_workshop(os.environ.get("TOPOUT_DEMO") == "1")
    held = None if asked.no_serve else server.listen()
    with preferences.read_once():
        if workshop.demo:
            welcome.tell_plan()
        else:
            welcome.tell_code(served=held is not None)
            welcome.tell_procedures()
        if held is None:
            welcome.tell_records()
        else:
            welcome.tell_addresses(workshop)
    sys.stdout.flush()
    if held is not None:
        with opening.in_service(workshop):
            server.run(held)
