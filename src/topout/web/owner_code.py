"""`topout owner-code`: a way back in for an owner who forgot the password, for whoever may open the records on this computer.

It works while the workshop is open. The code sets a new password, and every session of the old one ends then.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from topout.web import start
from topout.web.start import Refused, say


def owner_code(arguments: Sequence[str]) -> int:
    """Print a one-time code for an owner. Returns the exit status."""
    return start.command(lambda: _owner_code(arguments))


def parser() -> start.Parser:
    """The options of `topout owner-code`."""
    made = start.parser(
        "owner-code", "Prints a one-time code with which an owner sets a new password. The workshop may be open."
    )
    made.add_argument(
        "account",
        metavar="ACCOUNT",
        nargs="?",
        type=start.name,
        help="name of the owner's account, where there are several",
    )
    return made


def _owner_code(arguments: Sequence[str]) -> None:
    asked = start.read(parser(), arguments)
    path = Path(os.environ["TOPOUT_DATABASE"]).absolute()
    if not path.is_file():
        raise Refused(f"{path}: there is no workshop here. Say where its records lie: topout owner-code --data DIR")
    start.set_up()
    from django.contrib.auth.models import User

    from topout.web import opening
    from topout.web.access import codes
    from topout.web.access.change import change
    from topout.web.backup import at_start

    opening.look_at_file()
    opening.look_at_storage()
    if at_start.behind():
        raise Refused(f"{path}: is of another version. Start it once with this one: topout serve")
    owners = list(User.objects.filter(is_staff=True, is_active=True).order_by("username"))
    if not owners:
        raise Refused("There is no account yet: topout serve prints the address that makes the owner's.")
    names = [owner.username for owner in owners]
    if asked.account is None and len(owners) > 1:
        raise Refused(f"There are several owners. Say for whom: topout owner-code ACCOUNT, one of {', '.join(names)}")
    if asked.account is not None and asked.account not in names:
        raise Refused(f'"{asked.account}": no owner has this account. Owners: ' + ", ".join(names))
    owner = next(owner for owner in owners if asked.account in (None, owner.username))
    with change(None, "owner code", {"account": owner.username}):
        code = codes.grouped(codes.make(owner))
    say(
        f"For the account {owner.username}, once, within a day. Press “I have a one-time code” on the sign-in page and write:"
    )
    say(f"\n    {code}\n")
    say(f"or open this behind the workshop's address: /code/?code={code}")
