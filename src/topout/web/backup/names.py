"""What a copy's file is called, and which copies have had their time: by age and number, the one rule for both.

`topout-3f9a1c-20261129T023000Z-night.zip`: the workshop's mark, the moment in UTC, why it was made.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final

NIGHT, MIGRATION, ASKED = "night", "upgrade", "asked"
REASONS: Final = {NIGHT: "by itself, at night", MIGRATION: "before an upgrade", ASKED: "asked for"}
AHEAD = timedelta(days=1)  # a copy from further ahead than this was made under a wrong clock
_NAME = re.compile(r"topout-([0-9a-f]{6})-(\d{8}T\d{6}Z)-(night|upgrade|asked)(?:-(\d{1,3}))?\.zip")
_TIME: Final = "%Y%m%dT%H%M%SZ"


@dataclass(frozen=True)
class Name:
    """A copy as its file's name says it. `nth` tells copies of one second apart."""

    mark: str
    at: datetime
    reason: str
    nth: int = 0

    def __str__(self) -> str:
        return f"topout-{self.mark}-{self.at.astimezone(UTC):{_TIME}}-{self.reason}{f'-{self.nth}' if self.nth else ''}.zip"


def read(name: str) -> Name | None:
    """A file's name as a copy's; None where it is none of ours."""
    found = _NAME.fullmatch(name)
    if found is None:
        return None
    try:
        at = datetime.strptime(found[2], _TIME).replace(tzinfo=UTC)
    except ValueError:  # a thirteenth month
        return None
    return Name(found[1], at, found[3], int(found[4] or 0))


@dataclass(frozen=True)
class Retention:
    """How many copies stay: of the last nights, weeks and months that have one, and of those before an upgrade."""

    nights: int = 7
    weeks: int = 5
    months: int = 12
    upgrades: int = 10

    def __str__(self) -> str:
        return (
            f"of the last {self.nights} nights, {self.weeks} weeks and {self.months} months one each, "
            f"and the last {self.upgrades} before an upgrade"
        )


def spent(copies: Iterable[Name], retention: Retention, zone: tzinfo, now: datetime) -> set[Name]:
    """The copies that may go. One that was asked for never goes, nor the newest of all, nor one from the future.

    A night, week or month is the workshop's own, by `zone`; of each the newest copy stays.
    """
    known = sorted((name for name in copies if name.at <= now + AHEAD), key=lambda name: (name.at, name.nth))
    nights = [name for name in known if name.reason == NIGHT]
    upgrades = [name for name in known if name.reason == MIGRATION]
    stays = set(upgrades[-retention.upgrades :] if retention.upgrades else []) | set(known[-1:])

    def week(at: datetime) -> Hashable:
        return at.isocalendar()[:2]

    for number, of in (
        (retention.nights, datetime.date),
        (retention.weeks, week),
        (retention.months, lambda at: (at.year, at.month)),
    ):
        stays |= _newest_of_each(nights, number, lambda name, of=of: of(name.at.astimezone(zone)))  # type: ignore[misc]
    return {name for name in known if name.reason != ASKED} - stays


def _newest_of_each(ordered: list[Name], number: int, of: Callable[[Name], Hashable]) -> set[Name]:
    newest = {of(name): name for name in ordered}  # a later one takes the place of an earlier one
    return set(sorted(newest.values(), key=lambda name: name.at)[-number:]) if number else set()
