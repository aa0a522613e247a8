"""Who is signed in: sessions of Django's database store, with the key hashed in the table: who reads it can sign in as nobody.

The cookie alone holds the key, 32 random letters and digits (165 bits, so no salt and no slow hash is needed).
"""

from __future__ import annotations

import hashlib
from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.models import User
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.models import Session
from django.utils import timezone

from topout.web.prepared import Prepared

LETTERS = 40  # what Django's column holds: 160 bits of SHA-256


_ACCOUNT = Prepared(lambda pk: User.objects.filter(pk=pk))
_LIVE = Prepared(lambda key, now: Session.objects.filter(session_key=key, expire_date__gt=now)[:1])


def stored(key: str) -> str:
    """The key as it stands in the database."""
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()[:LETTERS]


class SignedIn(ModelBackend):
    """Django's own check of name and password; whose session it is, every request asks."""

    def get_user(self, user_id: int) -> User | None:
        """The account, as it stands now; None where it is gone or put out of use."""
        user = _ACCOUNT.first(user_id)
        return user if user is not None and self.user_can_authenticate(user) else None


class SessionStore(DatabaseStore):
    """Django's store; every look into the table goes by the hash. The pages are synchronous, the other half is refused."""

    def _get_session_from_db(self) -> Session | None:
        row = _LIVE.first(stored(self.session_key or ""), timezone.now())
        if row is None:
            self._session_key = None
        return row

    def exists(self, session_key: str) -> bool:
        return super().exists(stored(session_key))

    def create_model_instance(self, data: dict[str, Any]) -> Any:
        row = super().create_model_instance(data)
        row.session_key = stored(row.session_key)
        return row

    def delete(self, session_key: str | None = None) -> None:
        key = session_key or self.session_key
        if key:
            super().delete(stored(key))

    async def _aget_session_from_db(self) -> Session | None:
        raise NotImplementedError("Topout's pages are synchronous; a key would stand here as it is.")

    async def aexists(self, session_key: str) -> bool:
        raise NotImplementedError("Topout's pages are synchronous; a key would stand here as it is.")

    async def acreate_model_instance(self, data: dict[str, Any]) -> Any:
        raise NotImplementedError("Topout's pages are synchronous; a key would stand here as it is.")

    async def adelete(self, session_key: str | None = None) -> None:
        raise NotImplementedError("Topout's pages are synchronous; a key would stand here as it is.")
