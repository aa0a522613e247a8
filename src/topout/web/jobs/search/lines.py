"""Lines as they are shown: whose, what, when, with the letters that were typed marked in them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.utils import timezone
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from topout.web import clock
from topout.web.folding import folded
from topout.web.jobs.search.find import Found, Hit


@dataclass(frozen=True)
class Line:
    """One line: what is large and what small in each of its three columns."""

    hit: Hit
    who: SafeString
    reach: str
    what: SafeString
    more: SafeString
    when: str
    job: str
    note: SafeString


def marked(text: str, words: tuple[str, ...]) -> SafeString:
    """The text, with the beginnings that were asked for in `mark`."""
    parts, last = [], 0
    for token in re.finditer(r"[^\W_]+", text):
        low = folded(token.group())
        length = max((len(word) for word in words if low.startswith(word)), default=0)
        if length:
            # A letter that is spelt out as two counts as one here: then the whole word is marked.
            end = token.start() + length if len(low) == len(token.group()) else token.end()
            parts += [escape(text[last : token.start()]), format_html("<mark>{}</mark>", text[token.start() : end])]
            last = end
    return mark_safe("".join([*parts, escape(text[last:])]))  # each part is escaped above


def lines(found: Found) -> list[Line]:
    return [_line(hit, found.words) for hit in found.hits]


def _line(hit: Hit, words: tuple[str, ...]) -> Line:
    if hit.part is not None:
        tag = f"tag {hit.part.tag}" if hit.part.tag else ""
        facts = " · ".join(filter(None, (tag, hit.part.state, hit.part.place)))
        return Line(
            hit,
            marked(str(hit.part), words),
            "on the Shelf",
            marked(facts, words),
            SafeString(""),
            "",
            "",
            SafeString(""),
        )
    unit = str(hit.unit) if hit.unit else ""
    serials = [f"serial {row.serial}" for row in (hit.unit, hit.bike) if row is not None and row.serial]
    more = " · ".join(filter(None, (unit, *(f"tag {tag}" for tag in hit.tags[:2]), *serials)))
    bike = str(hit.bike) if hit.bike else ("no bike: brought loose" if hit.unit else "no bike in the Book")
    taken = timezone.localtime(hit.job.taken_in_at) if hit.job else None
    this_year = taken is not None and taken.year == timezone.localtime(clock.now()).year
    return Line(
        hit,
        marked(str(hit.rider), words) if hit.rider else SafeString("nobody’s"),
        f"telephone {hit.ending}" if hit.ending else "no telephone",
        marked(bike, words),
        marked(more, words),
        hit.job.asked_title if hit.job else "no job yet",
        f"job {hit.job.number} · {taken:{'%-d %b' if this_year else '%-d %b %Y'}}" if hit.job and taken else "",
        marked(f"“{hit.note}”", words) if hit.note else SafeString(""),
    )
