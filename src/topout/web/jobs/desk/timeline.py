"""The day as a rule: hours to scale, now, what is promised and what holds, drawn for three widths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

FIRST_HOUR, LAST_HOUR = 8, 19  # a bench's day; it grows where something is promised earlier or later
LETTER = {20: 10.4, 16: 8.4}  # px of a letter of Inter at that size, on average


@dataclass(frozen=True)
class Mark:
    """Something on the day: a promise at one time, or a hold from one time to another."""

    at: datetime
    name: str
    until: datetime | None = None


@dataclass(frozen=True)
class Text:
    """Words in the picture."""

    x: float
    y: float
    anchor: str
    words: str


@dataclass(frozen=True)
class Day:
    """One drawing: lengths in px of its own width; `label` says all of it in words."""

    kind: str
    width: int
    label: str
    now_x: float | None
    ticks: tuple[tuple[float, int], ...]
    hours: tuple[Text, ...]
    flags: tuple[float, ...]
    leaders: tuple[float, ...]
    texts: tuple[Text, ...]
    holds: tuple[tuple[float, float], ...]
    hold_texts: tuple[Text, ...]

    @property
    def end(self) -> int:
        return self.width - 2

    @property
    def spent(self) -> float:
        return 0 if self.now_x is None else max(0.0, self.now_x - 2)


def draw(now: datetime, promises: Sequence[Mark], holds: Sequence[Mark]) -> list[Day]:
    """The day around `now` (local time), wide, upright and narrow."""
    times = [mark.at for mark in promises] + [now]
    first = min([FIRST_HOUR, *(time.hour for time in times)])
    last = max([LAST_HOUR, *(time.hour + 1 for time in times)])
    shapes = [("wide flatwide", 920, 20, 1, 4), ("wide upright", 602, 20, 1, 4), ("narrow", 358, 16, 2, 2)]
    return [
        _one(kind, width, px, step, parts, first, last, now, promises, holds) for kind, width, px, step, parts in shapes
    ]


def _one(
    kind: str, width: int, px: int, step: int, parts: int, first: int, last: int, now: datetime,
    promises: Sequence[Mark], holds: Sequence[Mark],
) -> Day:  # fmt: skip
    start = now.replace(hour=first, minute=0, second=0, microsecond=0)
    span = timedelta(hours=last - first)
    end = width - 2

    def x_of(time: datetime) -> float:
        return round(2 + (end - 2) * min(1.0, max(0.0, (time - start) / span)), 1)

    ticks: list[tuple[float, int]] = []
    hours: list[Text] = []
    for part in range((last - first) * parts + 1):
        at = start + timedelta(hours=part / parts)
        whole = part % parts == 0
        ticks.append((x_of(at), 82 if whole else 75))
        hour = first + part // parts
        if whole and (hour - first) % step == 0:
            anchor = "start" if part == 0 else ("end" if hour == last else "middle")
            if hours and anchor == "end" and x_of(at) - hours[-1].x < 4.5 * LETTER[px]:
                hours.pop()  # the last hour ends at the edge: the one before would run into it
            hours.append(Text(x_of(at), 102, anchor, str(hour)))
    now_x = x_of(now)
    flags = tuple(x_of(mark.at) for mark in promises)
    said = 3 * LETTER[px]  # "now", left of its line where there is room for it
    left_of = now_x - 10 - said >= 2
    taken = [(now_x - 10 - said, now_x + 2, 56) if left_of else (now_x - 2, now_x + 10 + said, 56)]
    taken += [(x - 7, x - 1, 56) for x in flags]  # a label on the lower row may not run into the next flag
    texts, leaders = [Text(now_x - 10, 56, "end", "now") if left_of else Text(now_x + 10, 56, "start", "now")], []
    for x, ways_to_say in _labels(promises, x_of):
        for said_here in ways_to_say:
            place = _free(x, len(said_here) * LETTER[px], width, taken, several=len(ways_to_say) > 2)
            if place is None:
                continue  # the label of the drawing and the rows below say it
            texts.append(Text(place[0], place[2], "start", said_here))
            if place[2] == 22:
                leaders.append(x)
            break
    spans, hold_texts = [], []
    for mark in holds[:1]:
        assert mark.until is not None
        left, right = x_of(mark.at), x_of(mark.until)
        spans.append((left, right))
        words = f"{mark.name} holds pressure to {mark.until:%H:%M}"
        fits = right + 12 + len(words) * LETTER[px] < width
        hold_texts.append(Text(right + 12 if fits else left - 10, 127, "start" if fits else "end", words))
    return Day(
        kind, width, _words(now, first, last, promises, holds), now_x, tuple(ticks), tuple(hours), flags, tuple(leaders),
        tuple(texts), tuple(spans), tuple(hold_texts),
    )  # fmt: skip


def _labels(promises: Sequence[Mark], x_of: Callable[[datetime], float]) -> list[tuple[float, list[str]]]:
    """What stands at each flag: everybody who is promised that time, the first of them and how many more, or the time alone."""
    together: dict[datetime, list[str]] = {}
    for mark in promises:
        together.setdefault(mark.at, []).append(mark.name)
    found = []
    for at, names in together.items():
        words = [f"{at:%H:%M} {', '.join(names)}"]
        if len(names) > 1:
            words.append(f"{at:%H:%M} {names[0]} and {len(names) - 1} more")
        found.append((x_of(at), [*words, f"{at:%H:%M}"]))
    return found


def _free(
    x: float, length: float, width: int, taken: list[tuple[float, float, int]], *, several: bool
) -> tuple[float, float, int] | None:
    """A place for a label beside its flag: right of it on the lower row, else above, else left; None where all are taken.

    A long one, of `several`, goes left before it lies above: what comes later needs its room.
    """
    above, left_above = (x - length / 2, 22), (x - length + 8, 22)
    for left, row in ((x + 12, 56), *((left_above, above) if several else (above, left_above)), (x - 8, 22)):
        right = left + length
        if left < 2 or right > width - 2:
            continue
        if all(row != other_row or right + 12 < low or left > high + 12 for low, high, other_row in taken):
            taken.append((left, right, row))
            return left, right, row
    return None


def _words(now: datetime, first: int, last: int, promises: Sequence[Mark], holds: Sequence[Mark]) -> str:
    parts = [f"Today from {first} to {last} o’clock: now {now:%H:%M}"]
    parts += [f"the hold on {mark.name} ends {mark.until:%H:%M}" for mark in holds if mark.until]
    if promises:
        parts.append("promised " + ", ".join(f"{mark.at:%H:%M} {mark.name}" for mark in promises))
    return "; ".join(parts)
