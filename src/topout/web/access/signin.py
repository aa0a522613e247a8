"""The delay after wrong passwords: it grows for strangers' devices, and stays short on a device known to the account.

Documented (OWASP: count per account, doubling from 1 s, no lockout as an attack): after `n` wrong passwords in a row for one
account name, from one address that never signed in to it, the next try from there waits `2**(n-1)` s, at most 300 s: 20 an hour.
A device that signed in before carries a signed cookie and has its own count, at most 60 s. A try inside the wait is not
checked at all. Names without an account count alike.

So a stranger's tries hold up nobody at another address. Spread over many addresses they count together: after 100 in a row
(NIST SP 800-63B, 5.2.2) strange devices wait for one another. What no stranger can hold up is a known device, and a one-time
code, which the owner gives out and `topout owner-code` gives the owner. Waits never outlast a clock that was wrong.
"""

from __future__ import annotations

import hashlib
import ipaddress
from datetime import datetime, timedelta

from django.core import signing
from django.db import transaction
from django.http import HttpRequest, HttpResponse

from topout.web import clock
from topout.web.access.codes import code
from topout.web.access.models import WrongTries

LONGEST_STRANGE_S = 300
LONGEST_KNOWN_S = 60
TOGETHER = 100  # wrong tries in a row from all strange addresses, from which on they wait for one another
STRANGE = "@"  # begins the mark of an address; alone it stands for all of them
KNOWN_COOKIE = "topout_known"
KNOWN_DAYS = 90
FORGET_AFTER = timedelta(days=1)


def _account(name: str) -> str:
    return hashlib.sha256(name.strip().casefold().encode("utf-8", "surrogatepass")).hexdigest()


def device(request: HttpRequest, name: str) -> str:
    """The device's own mark where it signed in to this account before, else ""."""
    try:
        held = signing.loads(request.COOKIES.get(KNOWN_COOKIE, ""), salt=KNOWN_COOKIE, max_age=KNOWN_DAYS * 86400)
    except signing.BadSignature:
        return ""
    return str(held["device"]) if held.get("account") == _account(name) else ""


def know(response: HttpResponse, name: str, mark: str, secure: bool) -> None:
    """Let this device be known to the account."""
    value = signing.dumps({"account": _account(name), "device": mark or code(12)}, salt=KNOWN_COOKIE)
    response.set_cookie(KNOWN_COOKIE, value, max_age=KNOWN_DAYS * 86400, httponly=True, samesite="Lax", secure=secure)


def seen_from(request: HttpRequest, name: str) -> str:
    """Where a try comes from: the known device's mark, else the address, of IPv6 the network that one household has."""
    return device(request, name) or STRANGE + _network(request.META.get("REMOTE_ADDR", ""))


def _network(address: str) -> str:
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return "nowhere"
    if found.version == 4:
        return str(found)
    return str(found.ipv4_mapped or ipaddress.ip_network((found, 64), strict=False).network_address)


def wait_s(name: str, mark: str, at: datetime | None = None) -> int:
    """Whole seconds until the next try for this account from there (`seen_from`) is looked at; 0 when at once."""
    strange = mark.startswith(STRANGE)
    now = at or clock.now()
    found = WrongTries.objects.filter(account_hash=_account(name), device__in={mark, STRANGE} if strange else {mark})
    return max([0, *(_left(row, now) for row in found)])


def _left(row: WrongTries, now: datetime) -> int:
    if row.tries == 0 or row.last_at > now:
        return 0  # the clock was ahead then: nobody waits for it to come round, and the count stands
    if row.device == STRANGE:
        wait = LONGEST_STRANGE_S if row.tries >= TOGETHER else 0
    else:
        longest = LONGEST_STRANGE_S if row.device.startswith(STRANGE) else LONGEST_KNOWN_S
        wait = min(2 ** min(row.tries - 1, 20), longest)
    left = row.last_at + timedelta(seconds=wait) - now
    return max(0, -int(-left.total_seconds() // 1))


def claim(name: str, mark: str) -> int:
    """Count one try as wrong before it is checked, so that parallel tries can't slip by; gives the wait if refused."""
    with transaction.atomic():
        now = clock.now()
        wait = wait_s(name, mark, now)
        if wait:
            return wait
        WrongTries.objects.filter(last_at__lt=now - FORGET_AFTER).delete()
        for each in (mark, STRANGE) if mark.startswith(STRANGE) else (mark,):
            row, _ = WrongTries.objects.get_or_create(
                account_hash=_account(name), device=each, defaults={"last_at": now}
            )
            row.tries += 1
            row.last_at = now
            row.save()
    return 0


def right(name: str, mark: str) -> None:
    """The password was right: the count of this place starts again, and that of all strange ones together."""
    WrongTries.objects.filter(account_hash=_account(name), device__in={mark, STRANGE}).delete()
