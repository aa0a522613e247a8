"""The delay after wrong passwords: it grows for strangers' devices, and stays short on a device known to the account.

Documented (OWASP: count per account, doubling from 1 s, no lockout as an attack): after `n` wrong passwords in a row
for one account name, tries from devices that never signed in to it wait `2**(n-1)` s, at most 300 s: 20 an hour.
A device that signed in before carries a signed cookie and has its own count, at most 60 s. A try inside the wait is
not checked at all. Names without an account count alike.
"""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

from django.core import signing
from django.db import transaction
from django.http import HttpRequest, HttpResponse

from topout.web import clock
from topout.web.access.codes import code
from topout.web.access.models import WrongTries

LONGEST_STRANGE_S = 300
LONGEST_KNOWN_S = 60
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


def wait_s(name: str, mark: str, at: datetime | None = None) -> int:
    """Whole seconds until the next try for this account from this device is looked at; 0 when at once."""
    row = WrongTries.objects.filter(account_hash=_account(name), device=mark).first()
    if row is None or row.tries == 0:
        return 0
    now = at or clock.now()
    if row.last_at > now:
        return 0  # the clock was ahead then: nobody waits for it to come round, and the count stands
    longest = LONGEST_KNOWN_S if mark else LONGEST_STRANGE_S
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
        row, _ = WrongTries.objects.get_or_create(account_hash=_account(name), device=mark, defaults={"last_at": now})
        row.tries += 1
        row.last_at = now
        row.save()
    return 0


def right(name: str, mark: str) -> None:
    """The password was right: this device's count starts again."""
    WrongTries.objects.filter(account_hash=_account(name), device=mark).delete()
