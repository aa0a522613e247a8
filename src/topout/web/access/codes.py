"""Random short codes for what leaves the workshop, and the one-time code of the first start."""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta

from django.contrib.auth.models import User

from topout.codes import ALPHABET
from topout.web import clock
from topout.web.access.models import StartCode

START_HOURS = 24


def code(length: int) -> str:
    """`length` random signs of the alphabet, 4.64 bits each."""
    return "".join(secrets.choice(ALPHABET) for _ in range(length))


def grouped(plain: str) -> str:
    """`K7M4QX` as it is printed and read out: `K7M-4QX`."""
    half = (len(plain) + 1) // 2
    return f"{plain[:half]}-{plain[half:]}"


def tidy(typed: str) -> str:
    """What a person typed for a code: capitals, without spaces and dashes."""
    return "".join(sign for sign in typed.upper() if sign.isalnum())


def _hashed(plain: str) -> str:
    return hashlib.sha256(plain.encode()).hexdigest()


def make_start_code() -> str | None:
    """A one-time code where there is no account yet, else None; older unused codes stop working."""
    if User.objects.exists():
        return None
    now = clock.now()
    StartCode.objects.filter(used_at=None).delete()
    plain = code(12)
    StartCode.objects.create(code_hash=_hashed(plain), made_at=now, expires_at=now + timedelta(hours=START_HOURS))
    return plain


def start_code(typed: str) -> StartCode | None:
    """The unused code that was typed, while it lasts and while there is no account."""
    if User.objects.exists():
        return None
    found = StartCode.objects.filter(code_hash=_hashed(tidy(typed)), used_at=None).first()
    return found if found and found.expires_at > clock.now() else None
