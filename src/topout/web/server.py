"""The server that holds the workshop's address: many connections, few threads, none of them waiting for a slow client."""

from __future__ import annotations

from typing import Any

from django.conf import settings

from topout.web import start

MOST_BODY = 64 * 1024 * 1024  # eight photos and a form
THREADS = 8


def listen() -> Any:
    """A server that holds the address; raises Refused where another program holds it already."""
    from waitress.server import create_server

    from topout.web.wsgi import application

    try:
        return create_server(
            application, host=settings.BIND, port=settings.PORT, threads=THREADS, ident="", max_request_body_size=MOST_BODY,
            clear_untrusted_proxy_headers=False,  # nothing trusts them; the demo sees by them that a proxy asks
        )  # fmt: skip
    except OSError as fault:
        raise start.Refused(_taken(fault)) from None


def _taken(fault: OSError) -> str:
    other = settings.PORT + 1 if settings.PORT < 65535 else 8000
    return (
        f"{settings.BIND}:{settings.PORT} can't be served ({fault.strerror}). Is the workshop open already? "
        f"Else give it another port: topout serve --port {other}"
    )
