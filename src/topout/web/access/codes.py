"""Random short codes for what leaves the workshop, and the one-time codes with which people set their own passwords.

A one-time code has 12 signs of 29, 58 bits: nobody guesses one while it lasts, so tries at it need no delay, and a flood of
wrong passwords keeps nobody out who has one.
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta

from django.contrib.auth.models import User

from topout.codes import ALPHABET
from topout.web import clock
from topout.web.access.models import OneTimeCode

LASTS = timedelta(hours=24)
SIGNS = 12


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


def make(user: User | None, made_by: User | None = None) -> str:
    """A one-time code for `user`, None for the first account; older unused ones of the same stop working.

    The plain code is in the answer alone: it is shown once, the database keeps its hash.
    """
    now = clock.now()
    OneTimeCode.objects.filter(user=user, used_at=None).delete()
    plain = code(SIGNS)
    OneTimeCode.objects.create(
        code_hash=_hashed(plain), user=user, made_by=made_by, made_at=now, expires_at=now + LASTS
    )
    return plain


def make_start_code() -> str | None:
    """The code of the first account where there is none yet, else None."""
    return None if User.objects.exists() else make(None)


def start_code(typed: str) -> OneTimeCode | None:
    """The unused code that was typed, while it lasts and while there is no account."""
    return None if User.objects.exists() else _unused(typed, user=None)


def code_of_person(typed: str) -> OneTimeCode | None:
    """The unused code of an open account that was typed, while it lasts."""
    return _unused(typed, user__is_active=True)


def _unused(typed: str, **whose: object) -> OneTimeCode | None:
    found = (
        OneTimeCode.objects.select_related("user").filter(code_hash=_hashed(tidy(typed)), used_at=None, **whose).first()
    )
    return found if found and clock.now() < found.expires_at else None


def use(found: OneTimeCode) -> None:
    """It works once; call inside a change."""
    found.used_at = clock.now()
    found.save(update_fields=["used_at"])
