"""Passwords are hashed by Argon2, a few at a time: each takes 100 MiB and all cores for a moment."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from django.contrib.auth.hashers import Argon2PasswordHasher

AT_ONCE = 2  # 200 MiB at most
STRANGER_WAITS_S = 1.0
KNOWN_WAITS_S = 10.0
_hashing = threading.BoundedSemaphore(AT_ONCE)
# One turn for all devices that never signed in, one for those that did: who floods the first can't fill the second.
_turns = {False: threading.Lock(), True: threading.Lock()}


class BoundedArgon2(Argon2PasswordHasher):
    """Django's Argon2 (2 passes, 100 MiB, above OWASP's least of 19 MiB), at most AT_ONCE of them in this process."""

    def encode(self, password: str, salt: str) -> str:
        with _hashing:
            return super().encode(password, salt)

    def verify(self, password: str, encoded: str) -> bool:
        with _hashing:
            return super().verify(password, encoded)


@contextmanager
def turn(known: bool) -> Iterator[bool]:
    """A turn at signing in: False where too many others wait, so that they don't hold every thread of the server."""
    lock = _turns[known]
    got = lock.acquire(timeout=KNOWN_WAITS_S if known else STRANGER_WAITS_S)
    try:
        yield got
    finally:
        if got:
            lock.release()
