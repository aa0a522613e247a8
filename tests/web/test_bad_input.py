"""Every form of the workshop, every field of it, every kind of bad input: a sentence at the box, what was typed kept,
nothing saved, never a server error. The fields are read from the pages themselves, so a new one is tried too."""

from __future__ import annotations

import copy
import html
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.forms.forms import BaseForm
from django.forms.models import BaseModelForm
from django.http import QueryDict
from django.test import Client

from topout.web.access.models import Workshop
from web import people, raw
from web.addresses import all_addresses

BAD = {
    "missing": "", "wrong unit": "12 parsecs", "text": "about so much", "NaN": "NaN", "infinity": "inf", "huge": "1e999",
    "long": "9" * 5000, "negative": "-7", "comma": "1,250", "two points": "1.2.3", "NUL": "7\x00", "control": "7\x1b[2J",
    "markup": "<script>alert(1)</script>", "quote": "\"'><b>", "other digits": "٣٤", "turned": "\u202e12", "sql": "' OR 1=1 --",
    "percent": "%s%n{0}{{ 7 }}", "spaces": "   ", "emoji": "🍴", "no letter": "\ufffd",
}  # fmt: skip
SLOW = {"/jobs/214/plan/"}  # computes for each answer: tried with the plan's own tests


@dataclass(frozen=True)
class Box:
    """A field of a form as the page draws it."""

    name: str
    kind: str
    value: str


def boxes(page: str, here: str) -> list[tuple[str, list[Box]]]:
    """Address and boxes of every form of a page that is sent by POST and carries a change key."""
    forms = []
    for head, form in re.findall(r'(<form[^>]*method="post"[^>]*>)(.*?)</form>', page, re.S):
        action = re.search(r'action="([^"]+)"', head)
        if 'name="change_key"' not in form:
            continue
        found: list[Box] = []
        for tag, attributes, inner in re.findall(
            r"<(input|select|textarea)\b([^>]*)>(.*?</(?:select|textarea)>)?", form, re.S
        ):
            name = re.search(r'\bname="([^"]+)"', attributes)
            if not name or name.group(1) in ("csrfmiddlewaretoken", "change_key"):
                continue
            value = re.search(r'\bvalue="([^"]*)"', attributes)
            kind = re.search(r'\btype="([^"]+)"', attributes)
            text = value.group(1) if value else ""
            if tag == "textarea":
                text = inner.removesuffix("</textarea>").removeprefix("\n")
            if tag == "select":
                chosen = re.search(r'<option value="([^"]*)" selected', inner)
                text = chosen.group(1) if chosen else ""
            if kind and kind.group(1) in ("radio", "checkbox") and "checked" not in attributes:
                if any(box.name == name.group(1) for box in found):
                    continue  # another of the same answers stands there
                text = ""
            found.append(Box(name.group(1), kind.group(1) if kind else tag, html.unescape(text)))
        forms.append((action.group(1) if action else here, list({box.name: box for box in found}.values())))
    return forms


@pytest.fixture
def owner(demo: Path) -> Client:
    Workshop.objects.update(demo=False)
    return people.browser(User.objects.get(username="maud"))


def kept_rows(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    connection.close()
    with raw.opened(path) as base:
        tables = [row[0] for row in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {table: base.execute(f"SELECT * FROM {table}").fetchall() for table in tables}


REPLIES = (200, 303, 400, 403, 404, 409, 422)


@pytest.fixture
def cleaned(monkeypatch: pytest.MonkeyPatch) -> list[BaseForm]:
    """The forms that a request has cleaned, as they were filled in."""
    seen: list[BaseForm] = []
    whole = BaseForm.full_clean

    def noted(form: BaseForm) -> None:
        if form.is_bound and form not in seen:
            seen.append(form)
        whole(form)

    monkeypatch.setattr(BaseForm, "full_clean", noted)
    return seen


def together(kinds: dict[str, list[str]], turn: int, soak: bool) -> Iterator[dict[str, str]]:
    """Few ways to fill in a form so that every box has something bad once; in the soak every kind of bad stands in some box.

    With each `turn` the boxes have others of their kinds.
    """
    boxes_left, kinds_left = set(kinds), {what for each in kinds.values() for what in each} if soak else set[str]()
    while boxes_left or kinds_left:
        mixed: dict[str, str] = {}
        for nth, (name, whats) in enumerate(kinds.items()):
            new = [what for what in whats if what in kinds_left]
            if new or name in boxes_left:
                mixed[name] = new[0] if new else whats[(turn + nth) % len(whats)]
                kinds_left.discard(mixed[name])
                boxes_left.discard(name)
        yield mixed


def names_of(form: BaseForm) -> set[str]:
    """The names of its boxes on the page."""
    return {form.add_prefix(name) for name in form.fields}


def faults(forms: list[BaseForm], data: dict[str, str]) -> set[str]:
    """The boxes with which the forms, filled in anew, find fault; what they raise is a server error and goes through."""
    found: set[str] = set()
    for form in forms:
        again = copy.copy(form)
        sent = QueryDict(mutable=True)
        sent.update(data)
        again.data, again.fields = sent, copy.deepcopy(form.fields)
        if isinstance(again, BaseModelForm):
            again.instance = copy.copy(again.instance)
        again.full_clean()
        found |= {again.add_prefix(name) for name in again.errors}
    return found


@pytest.mark.parametrize("soak", [False, pytest.param(True, marks=pytest.mark.soak)], ids=["daily", "soak"])
def test_no_field_of_any_form_reaches_a_server_error(owner: Client, cleaned: list[BaseForm], soak: bool) -> None:
    """Every box × every kind of bad input through the form's own class; what it takes, and what it refuses, through the page.

    What is refused and what is taken go to the server apart, all boxes in one request, so that what would be saved is
    saved and drawn; of another form with other kinds, in the soak with each kind. A form that no class of forms reads gets
    a request for each kind of a third of them by turns, in the soak for each box and kind.
    """
    tried = sent = turn = 0
    through = set[str]()  # the kinds that went to the server

    def post(place: str, data: dict[str, str], where: tuple[str, ...]) -> None:
        nonlocal sent
        sent += 1
        reply = owner.post(place, {**data, "change_key": f"bad-{sent}"})
        assert reply.status_code in REPLIES, (*where, reply.status_code)
        body = reply.getvalue().decode("utf-8", "replace")  # a copy that is downloaded comes in pieces
        shown = reply.headers.get("Content-Type", "").startswith("text/html")
        reply.close()
        assert not shown or "<script>alert(1)</script>" not in body, where
        assert "Traceback" not in body, where

    for name, address in all_addresses():
        if address in SLOW or name == "sign-in":
            continue
        answer = owner.get(address)
        if "html" not in answer.headers.get("Content-Type", "") or answer.status_code != 200:
            continue
        for place, form in boxes(answer.content.decode(), address):
            form = [box for box in form if box.kind != "file"]
            usual = {box.name: box.value for box in form}
            usual["csrfmiddlewaretoken"] = people.field_of(answer, "csrfmiddlewaretoken")
            cleaned.clear()
            post(place, usual | {box.name: BAD["text"] for box in form}, (address, "text"))
            readers = list(cleaned)
            refused: dict[str, list[str]] = {}
            taken: dict[str, list[str]] = {}
            read = {box.name for box in form if any(box.name in names_of(reader) for reader in readers)}
            turn += 1
            for shift in range(len(BAD)):  # every box once with every kind, each time another beside it
                mixed = {box.name: list(BAD)[(n + shift) % len(BAD)] for n, box in enumerate(form)}
                wrong = faults(readers, usual | {name: BAD[what] for name, what in mixed.items()})
                unread = {name: what for name, what in mixed.items() if name not in read}
                for name, what in mixed.items():
                    tried += 1
                    if name in read:
                        (refused if name in wrong else taken).setdefault(name, []).append(what)
                    elif soak:
                        post(place, usual | {name: BAD[what]}, (address, name, what))
                if unread and not soak and shift % 3 == turn % 3:
                    post(place, usual | {name: BAD[what] for name, what in unread.items()}, (address, str(unread)))
            for kinds in (refused, taken):
                for mixed in together(kinds, turn, soak):
                    through.update(mixed.values())
                    post(place, usual | {name: BAD[what] for name, what in mixed.items()}, (address, str(mixed)))
    assert tried > 3000 and through == set(BAD), (tried, sent, set(BAD) - through)


NUMBERS = {
    "/jobs/214/readings/as-left/": ("pressure", "sag", "exposed-length", "travel", "temperature", "spacers", "rebound"),
    "/book/riders/new/": ("rider-mass", "rider-front_share"),
    "/shelf/new/": ("length", "diameter", "gives", "volume", "on_hand"),
}
NO_NUMBER = [kind for kind in BAD if kind not in ("missing", "spaces", "negative", "sql")]


@pytest.mark.parametrize("address", list(NUMBERS))
def test_a_number_that_is_none_is_refused_in_words_and_stays_in_its_box(
    owner: Client, demo: Path, address: str
) -> None:
    """All boxes at once, each time each with another kind; and each box alone."""
    before, names = kept_rows(demo), NUMBERS[address]
    token = people.field_of(owner.get(address), "csrfmiddlewaretoken")
    fills = [
        {name: NO_NUMBER[(n + shift) % len(NO_NUMBER)] for n, name in enumerate(names)}
        for shift in range(len(NO_NUMBER))
    ]
    fills += [{name: NO_NUMBER[n]} for n, name in enumerate(names)]
    for nth, kinds in enumerate(fills):
        sent = {name: BAD[what] for name, what in kinds.items()}
        reply = owner.post(address, {**sent, "csrfmiddlewaretoken": token, "change_key": f"bad {nth}"})
        body = reply.content.decode()
        assert reply.status_code == 422, kinds
        assert "This needs mending" in body and "<title>Error: " in re.sub(r"\s+", " ", body), kinds
        for name, what in kinds.items():
            box = f"id_{name}"
            link = re.search(rf'<a href="#{box}">(.*?)</a>', body)
            assert link, (name, what, "the summary links to the box")
            assert f'id="{box}_error"' in body and body.count(link.group(1)) >= 2, "the same words at the box"
            if what not in ("NUL", "control", "turned"):
                field = re.search(rf'<(?:input|textarea)[^>]*id="{box}"[^>]*>[^<]*', body)
                assert field and BAD[what] in html.unescape(field.group()), (name, what, "what was typed stays")
        assert not re.search(
            r"\b(invalid|please|oops|illegal)\b|field is required", re.sub(r"<[^>]*>", " ", body), re.I
        ), kinds
    assert kept_rows(demo) == before


BAD_FIGURES = ("wrong unit", "text", "NaN", "infinity", "huge", "long", "comma", "NUL", "control")


def test_every_key_of_the_bench_file_is_a_box_and_refuses_bad_input(owner: Client, demo: Path) -> None:
    """Generated from the bench file's model: each key of bike and unit × each kind of bad input."""
    from topout.web.book import tables
    from topout.web.book.forms import BikeForm, FamilyForm, RiderForm, UnitForm, box_name
    from topout.web.book.kinds import KINDS

    tried, boxes = 0, set[tuple[str, str]]()
    asked: list[tuple[Any, dict[str, str]]] = [(RiderForm, {"name": "A"}), (BikeForm, {"name": "A"})]
    asked += [(UnitForm, {"name": "A", "kind": kind}) for kind in KINDS]
    asked += [(FamilyForm, {"name": "A", "kind": kind}) for kind in KINDS]
    for form_class, more in asked:
        form = form_class(dict(more))
        names = [(table, word, key) for table in form.table_names for word, key in tables.keys(table)]
        names = [each for each in names if box_name(*each[:2]) in form.fields]  # a bike has a shock's leverage alone
        boxes |= {each[:2] for each in names}
        told = [(table, word) for table, word, key in names if key.kind != "text"]
        for shift in range(len(BAD_FIGURES)):  # all at once, each time each with another kind: none hides another
            bad = {each: BAD_FIGURES[(n + shift) % len(BAD_FIGURES)] for n, each in enumerate(told)}
            form = form_class({**more, **{box_name(*each): BAD[what] for each, what in bad.items()}})
            assert not form.is_valid()
            assert [each for each in bad.items() if box_name(*each[0]) not in form.errors] == []
            tried += len(bad)
        low = [(table, word) for table, word, key in names if key.kind in ("quantity", "number", "count") and key.low_si is not None and key.low_si >= 0]  # fmt: skip
        form = form_class({**more, **{box_name(*each): "-7" for each in low}})
        assert not form.is_valid() and [each for each in low if box_name(*each) not in form.errors] == []
    assert tried > 2000
    held = {*tables.RIDER, *tables.BIKE, *tables.UNIT}
    assert boxes == {(table, word) for table in held for word, _ in tables.keys(table)}, "no key without a box"


def test_all_faults_at_once(owner: Client) -> None:
    data = {"name": "", "rider-mass": "9000 kg", "rider-front_share": "4,2", "email": "nowhere"}
    reply = people.send(owner, "/book/riders/new/", data)
    body = reply.content.decode()
    assert body.count('class="fault"') == 4
    assert body.count("<li><a href=") == 4


@pytest.mark.parametrize(
    ("what", "data"),
    [
        ("too large", b"x = 1\n" * 60_000), ("NUL", b"[fork]\x00"), ("not UTF-8", b"[fork]\n# \xff\xfe"),
        ("deep", b"a = " + b"[" * 5000), ("dots", b"a." * 16_000 + b"b = 1"), ("unknown", b"[forc]\ntravel = '140 mm'"),
        ("syntax", b"[fork\ntravel"), ("bare", b"[fork]\ntravel = 140"), ("empty", b""),
    ],
)  # fmt: skip
def test_a_bench_file_at_fault_is_refused_with_all_its_findings(
    owner: Client, demo: Path, what: str, data: bytes
) -> None:
    from django.core.files.uploadedfile import SimpleUploadedFile

    before = kept_rows(demo)
    form = {"bike_name": "B", "unit_name": "U", "file": SimpleUploadedFile("bench.toml", data)}
    reply = people.send(owner, "/book/riders/1/bench-file/", form)
    assert reply.status_code == 422, what
    assert "This needs mending" in reply.content.decode()
    assert kept_rows(demo) == before


def test_too_many_boxes_and_too_large_a_form_are_400(owner: Client) -> None:
    page = owner.get("/book/riders/new/")
    token = people.field_of(page, "csrfmiddlewaretoken")
    many = {f"box-{n}": "1" for n in range(500)}
    assert owner.post("/book/riders/new/", {**many, "csrfmiddlewaretoken": token, "change_key": "m"}).status_code == 400
    assert owner.post("/book/riders/new/", {"name": "x" * 2_000_000, "csrfmiddlewaretoken": token}).status_code in (
        400,
        413,
    )
