"""The standing cast: an owner, a technician, a stranger. `{name}_in` of `conftest.py` are their browsers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Protocol

from django.conf import settings
from django.contrib.auth.models import User
from django.test import Client
from django.test.client import ClientHandler

PASSWORD = "a fork is not a spoon"


class HasContent(Protocol):
    """An answer of the server or of the test's browser."""

    @property
    def content(self) -> bytes: ...


@dataclass
class Cast:
    """The accounts of a test workshop."""

    owner: User
    technician: User


def make_cast() -> Cast:
    """Two accounts; the stranger has none."""
    owner = User.objects.create_user("maud", password=PASSWORD, first_name="Maud", last_name="Askel", is_staff=True)
    technician = User.objects.create_user("jory", password=PASSWORD, first_name="Jory", last_name="Pask")
    return Cast(owner, technician)


# One for all browsers, as a server has one for all: building it looks at every static file, 30 ms each time.
_HANDLER = ClientHandler(enforce_csrf_checks=True)


def browser(user: User | None = None) -> Client:
    """A browser, signed in as `user` where one is given; it checks tokens as a real one must."""
    client = Client(enforce_csrf_checks=True, SERVER_NAME="localhost")
    client.handler = _HANDLER
    if user is not None:
        client.force_login(user)
    return client


def field_of(page: HasContent, name: str, nth: int = 0) -> str:
    """The value of the page's `nth` hidden or text field of that name."""
    text = page.content.decode()
    found = re.findall(rf'<input[^>]*name="{re.escape(name)}"[^>]*value="([^"]*)"', text)
    assert found, f"no field {name} in {text[:2000]}"
    return str(found[nth])


def token(client: Client) -> str:
    """The token of a form that this browser could have drawn, for a form that is sent without being looked at first."""
    secret = "s" * 32
    client.cookies[settings.CSRF_COOKIE_NAME] = secret
    return secret


def send(client: Client, path: str, data: dict[str, Any], page_path: str | None = None, times: int = 1) -> Any:
    """Load the page with its form, fill it in and send it `times` times; the last answer."""
    page = client.get(page_path or path)
    assert page.status_code == 200, (path, page.status_code)
    data = {
        "csrfmiddlewaretoken": field_of(page, "csrfmiddlewaretoken"), "change_key": field_of(page, "change_key", -1), **data
    }  # fmt: skip
    answer = None
    for _ in range(times):
        answer = client.post(path, data)
    return answer
