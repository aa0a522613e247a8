"""Every page of the address table, in a workshop of bar and inches (bar and mm, psi and inches too): no figure of the other system first.

What somebody typed stands as it was typed; a figure may follow its own system's ("4.83 bar · 70 psi"), and the second
row or column of a table may be the other system's. Nothing else.
"""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.db import models

from topout.web.access.models import Workshop
from topout.web.jobs.records.models import FrozenPlan
from web import addresses, people
from web.browser import looks

NUMBER = r"\d[\d.,\u202f]*"
BETWEEN = "[ \u00a0\u202f]"
METRIC_LENGTHS = ("mm", "cm", "N", "N/mm", "N·m", "kg", "J", "°C")
IMPERIAL_LENGTHS = ("in", "lbf", "lbf/in", "lbf·in", "lbf·ft", "lb", "ft·lbf", "°F")
# Pages that are about both systems, or hold what is named so everywhere.
NOT_WALKED = {
    "guide": "it explains both systems", "guide-page": "it explains both systems",
    "own-procedure-new": "a text of the workshop's own as it is written",
}  # fmt: skip
# Words that are not quantities of this workshop, and why each stands as it does.
AS_NAMED = (
    r"\d+(?:\.\d+)?[ \u00a0]in \(\d+(?: mm)?\)|\(\d+(?:, \d+)* mm\)",  # wheels are called by their inches and bead seats everywhere
    r"mm²/s at 40 °C",  # a grade of oil, ISO 3448
    r"What 2800 N add",  # the load of ISO 4210-6, as the standard writes it
    r"A4, 210 × 297 mm|Letter, 8\.5 × 11 in",  # sizes of paper
    r"metric: mm, kg, N·m|imperial: in, lb, lbf·in",  # the choice itself
)


def other_units(pressure: str, length: str) -> list[str]:
    return ["psi" if pressure == "bar" else "bar", *(IMPERIAL_LENGTHS if length == "mm" else METRIC_LENGTHS)]


def figures(text: str, units: list[str]) -> Iterator[tuple[str, str, str]]:
    """(what stands before, number, unit) of every figure in one of these units."""
    named = "|".join(re.escape(unit) for unit in sorted(units, key=len, reverse=True))
    for found in re.finditer(rf"({NUMBER})({BETWEEN})({named})(?![\w/·²³])", text):
        if (
            found[3] == "in" and found[2] == " "
        ):  # "3 in a row": a unit is kept to its number by a space that does not part
            continue
        yield text[max(0, found.start() - 60) : found.start()], found[1], found[3]


def typed() -> set[tuple[str, str]]:
    """Every figure with a unit that somebody typed into this workshop, as (number, unit)."""
    every = [*METRIC_LENGTHS, *IMPERIAL_LENGTHS, "psi", "bar", "degC", "degF", "ml"]
    named = "|".join(re.escape(unit) for unit in sorted(every, key=len, reverse=True))
    known: set[tuple[str, str]] = set()
    for model in apps.get_models():
        if model._meta.app_label in ("contenttypes", "sessions", "auth"):
            continue
        fields = [
            field.attname for field in model._meta.concrete_fields
            if isinstance(field, models.CharField | models.TextField | models.JSONField)
            and (model is not FrozenPlan or field.attname == "bench_file")
        ]  # fmt: skip
        for row in model._default_manager.values(*fields) if fields else ():
            text = json.dumps(row, ensure_ascii=False, default=str)
            for found in re.finditer(rf"({NUMBER})\s?({named})(?![\w/·²³])", text):
                known.add((found[1], {"degC": "°C", "degF": "°F"}.get(found[2], found[2])))
    return known


def said(page: str) -> str:
    """What a page says to people: its text, the words of its pictures, labels and hints; one part a line."""
    page = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)
    page = re.sub(r"<!--.*?-->", "", page, flags=re.DOTALL)
    hints = re.findall(r'(?:placeholder|title|aria-label|alt)="([^"]*)"', page)
    page = re.sub(r"</?(?:i|b|strong|em|s|tspan|span|a|time)\b[^>]*>", "", page)
    lines = re.sub(r"<[^>]+>", "\n", page)
    return html.unescape("\n".join([lines, *hints]))


def without_second(page: str, pressure: str) -> str:
    """The page without what is second by its place: an echo beside what was typed, the lower scale of a pressure rule."""
    page = re.sub(r'<span class="echo".*?</span>', "", page, flags=re.DOTALL)
    scale = re.compile(r'<text[^>]*class="t sm2"[^>]*>[^<]*?(psi|bar)</text>')
    for svg in re.findall(r"<svg\b.*?</svg>", page, re.DOTALL):
        units = [found[1] for found in scale.finditer(svg)]
        if units[:1] == [pressure]:
            page = page.replace(svg, scale.sub(lambda found: "" if found[1] != pressure else found[0], svg))
    return page


def stands_first(page: str, pressure: str, length: str, known: set[tuple[str, str]]) -> list[str]:
    """The figures of a page that stand in the other system with none of the workshop's own before them."""
    text = said(without_second(page, pressure))
    for words in AS_NAMED:
        text = re.sub(words, "", text)
    units = other_units(pressure, length)
    faults = []
    for before, number, unit in figures(text, units):
        if re.search(r"·[ \u00a0]?[^\n·]{0,25}$", before) or (number, unit) in known:
            continue
        faults.append(f"{before.rpartition(chr(10))[2]}{number} {unit}".strip())
    # Heads of rows, columns and boxes: "Pressure, psi" is second where "Pressure, bar" has stood.
    own = {"psi": "bar", "bar": "psi"} | dict(zip(METRIC_LENGTHS, IMPERIAL_LENGTHS, strict=True))
    own |= {second: first for first, second in own.items() if first not in ("psi", "bar")}
    for unit in units:
        if unit == "in":
            continue
        for found in re.finditer(rf"^(.*), {re.escape(unit)}(?:;.*)?$", text, re.MULTILINE):
            if f"{found[1]}, {'mm' if unit == 'mm' else own.get(unit, unit)}" not in text[: found.start()]:
                faults.append(f"head: {found[0].strip()}")
    faults += [
        f"beside a box: {unit}"
        for unit in re.findall(r'<span class="box">.*?<span>([^<]*)</span></span>', page)
        if unit in units
    ]
    return faults


PAGES = [look for look in looks.DEMO if look.who == "owner" and look.page not in NOT_WALKED]


# Bar with inches is neither: it shows at once what is said in psi and what is said in millimetres whatever the workshop has.
@pytest.mark.parametrize(
    ("pressure", "length"),
    [("bar", "in"), *(pytest.param(*each, marks=pytest.mark.soak) for each in (("bar", "mm"), ("psi", "in")))],
)
def test_no_page_says_a_figure_of_the_other_system_first(demo: Path, pressure: str, length: str) -> None:
    owner = people.browser(User.objects.get(username="maud"))
    owner.raise_request_exception = False
    known = typed()
    Workshop.objects.update(pressure_unit=pressure, length_unit=length)
    wrong, walked = {}, 0
    for look in PAGES:
        answer = owner.get(look.path or addresses.address_of(look.page))
        if answer.status_code == 302 or not answer.headers.get("Content-Type", "").startswith("text/html"):
            continue
        assert answer.status_code == look.status or look.status == 500, (look.name, answer.status_code)
        walked += 1
        found = stands_first(answer.content.decode(), pressure, length, known)
        if found:
            wrong[look.name] = sorted(set(found))
    assert walked > 60
    assert wrong == {}, "\n".join(f"{name}: {faults}" for name, faults in wrong.items())
