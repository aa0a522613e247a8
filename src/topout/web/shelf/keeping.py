"""Changes of the Shelf; each is called inside a change."""

from __future__ import annotations

from typing import Any

from topout.web.access.change import ChangeContext
from topout.web.access.codes import code
from topout.web.access.gate import person
from topout.web.book.models import Unit
from topout.web.shelf.models import Part, Tag, TagPrint

CODE_LENGTH = 6  # 25**6 = 244 million codes: with 10,000 tags one new code in 24,000 is drawn twice, and drawn again


def make_tag(doing: ChangeContext, *, unit: Unit | None = None, job_number: int | None = None) -> Tag:
    """A tag with a code that was never given before."""
    assert doing.who is not None
    while True:
        plain = code(CODE_LENGTH)
        if not Tag.objects.filter(code=plain).exists():
            return Tag.objects.create(code=plain, made_at=doing.at, made_by=doing.who, unit=unit, job_number=job_number)


def ask_for(doing: ChangeContext, tag: Tag, words: str, *, stop: bool) -> TagPrint:
    """Write down that a tag was asked for, for the printer, and what it said; `stop`: that it was the black one."""
    assert doing.who is not None
    return TagPrint.objects.create(
        tag=tag,
        number=tag.prints.count() + 1,
        who=doing.who,
        who_name=person(doing.who),
        at=doing.at,
        words=words,
        stop=stop,
    )


def make_part(doing: ChangeContext, *, kind: str, job_number: int | None = None, **what: Any) -> Part:
    """A part as measured, with a tag of its own."""
    assert doing.who is not None
    tag = make_tag(doing, job_number=job_number)
    return Part.objects.create(tag=tag, kind=kind, made_at=doing.at, made_by=doing.who, **what)


def change_part(doing: ChangeContext, part: Part, **what: Any) -> Part:
    """A part measured again, counted again, or with another price; its tag stays."""
    assert doing.who is not None
    for name, value in what.items():
        setattr(part, name, value)
    part.changed_at, part.changed_by = doing.at, doing.who.get_full_name() or doing.who.get_username()
    part.save()
    return part
