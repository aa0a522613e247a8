"""How it is said (words.md, end): what a mechanic would not say stands in no template and in no string that a page may show."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from django.contrib.auth.models import User
from django.test import Client

import topout
from topout.web import clock
from topout.web.access.change import change
from topout.web.access.models import Workshop
from topout.web.book import keeping as book
from topout.web.jobs.readings import show
from topout.web.jobs.records.models import Reading
from web import people
from web.plan_cast import hollin_job

SRC = Path(topout.__file__).parent
# What was said before -> how it is said.
SAID_OTHERWISE = {
    r"\bput in a (rider|bike|unit|part|family|fork|rear shock)\b": "add a rider",
    r"\b(give|gives) (a text|a mended|new ones)\b": "add a procedure",
    r"\bcheck and keep\b|\bkeep what the sheet\b": "save; “keep” is what a plan holds on to",
    r"\bkept in step\b": "kept up to date; a step is a step of a procedure",
    r"\b\d+ signs\b|\bany signs\b": "characters; a step is signed",
    r"\bother bead seat\b|\bor bead seat\b": "wheel size",
    r"\blook (at it )?once more\b": "check it over",
    r"\bend( behind)?, %": "firmer, % (softer, with a minus)",
    r"\bas frozen\b|, frozen\b": "as it was put to use; a sheet says of a plan when it was made",
    r"\bper cent of the span\b|\bnot as told\b|\bcarry its unit\b": "of the end of its scale; count them; a unit may stand behind it",
    r"not before \{\{ row\.|; not before \{\{": "from 08:32; three lines fit in no tick's box",
    "□": "another shape: that one looks like a box to tick",
    r"\bcalliper|\brub out\b|\bbare stanchion|\btyre room\b|\bthere is a problem\b": "caliper, delete, exposed stanchion, …",
}
EVERY = "|".join(SAID_OTHERWISE)  # one search of a text, not one for each


def said() -> Iterator[tuple[str, str]]:
    """Every text of a template, and every string of the code but what documents it, with its place."""
    for file in sorted((SRC / "web" / "templates").rglob("*.html")):
        yield str(file.relative_to(SRC)), re.sub(r"\{#.*?#\}", "", file.read_text("utf-8"), flags=re.S)
    for file in sorted(SRC.rglob("*.py")):
        text = file.read_text("utf-8")
        if "migrations" in file.parts or not re.search(
            EVERY, text, re.I
        ):  # taken apart only where there is something to find
            continue
        tree = ast.parse(text)
        documents = {
            node.body[0].value
            for node in ast.walk(tree)
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
            and node.body
            and isinstance(node.body[0], ast.Expr)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in documents:
                yield f"{file.relative_to(SRC)}:{node.lineno}", node.value


def test_it_is_said_as_a_workshop_says_it() -> None:
    found = [(place, hit.group()) for place, text in said() for hit in re.finditer(EVERY, text, re.I)]
    assert not found, f"say instead: {SAID_OTHERWISE}"


def test_what_was_chosen_is_told_apart_from_what_was_asked(demo: Path) -> None:
    """The page that stops the work said “Saved: Let go, the fork, Sucks itself in”."""
    page = people.browser(User.objects.get(username="maud")).get("/jobs/209/steps/", follow=True).content.decode()
    assert "Stop. Air stays trapped" in page and "Saved: Let go, the fork “Sucks itself in”, " in page


def test_a_name_that_says_what_it_is_is_not_said_twice(technician_in: Client, cast: people.Cast) -> None:
    with change(cast.technician, "two units", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Hanne Oker")
        bike = book.make_bike(doing, rider=rider, name="Skerry trail", tables={})
        book.make_unit(doing, bike=bike, name="Sorrel rear shock", tables={}, kind="shock")
        unit = book.make_unit(doing, bike=bike, name="Ashlar", tables={}, kind="fork")
    page = technician_in.get(f"/book/bikes/{bike.pk}/").content.decode()
    assert ">Sorrel rear shock</a></li>" in page and '>Ashlar</a> <span class="note">fork</span></li>' in page
    page = technician_in.get(f"/book/units/{unit.pk}/").content.decode()
    assert f'<a href="/book/riders/{rider.pk}/">Hanne Oker</a>' in page, "every name is a link to its page"


def test_a_form_of_the_book_says_what_a_mechanic_says(technician_in: Client, cast: people.Cast) -> None:
    """“Negative: self-equalising”, “Power: How sharply it stiffens”; and a sag was asked of the front wheel, which is refused."""
    with change(cast.technician, "a bike", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Hanne Oker")
        bike = book.make_bike(doing, rider=rider, name="Skerry trail", tables={})
        fork = {"fork": {"travel": "150 mm"}, "fork.air": {"negative": "self-equalising"}}
        unit = book.make_unit(doing, bike=bike, name="Ashlar", tables=fork, kind="fork")
    form = technician_in.get(f"/book/units/{unit.pk}/change/").content.decode()
    words = re.sub(r"<[^>]*>", " ", form)
    for said_so in (
        "fills itself through a port",
        "has a valve of its own",
        "Stiffening",
        "Extra travel on a hard landing",
    ):
        assert said_so in words, said_so
    assert (
        "self-equalising" not in words
        and "fills itself through a port" in technician_in.get(f"/book/units/{unit.pk}/").content.decode()
    )
    of_bike = technician_in.get(f"/book/bikes/{bike.pk}/change/").content.decode()
    assert 'id="id_rear_wheel-sag"' in of_bike and 'id="id_front_wheel-sag"' not in of_bike
    assert "29 in is 622 mm" in of_bike


def test_a_button_of_the_bench_says_what_it_does(demo: Path) -> None:
    """“As left” stood beside “Write down how it is left.”"""
    page = people.browser(User.objects.get(username="maud")).get("/").content.decode()
    row = page[page.index("Write down how it is left.") :]
    assert re.search(r">\s*Write it down<", row[:2000]) and not re.search(r">\s*As left<", page)


def test_what_pages_say_of_the_demo_is_what_a_mechanic_says(demo: Path) -> None:
    """“Hold Hold the piston”, “Charged, do not open, travel 160 → 150 mm”, a tyre's bore, a rebound of 6 without its unit."""
    maud = people.browser(User.objects.get(username="maud"))

    def words(path: str) -> str:
        page = maud.get(path).content.decode()
        return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page)).replace(" ,", ",")

    card = words("/jobs/214/")
    assert "Hold point. Hold the piston against the seal head" in card and "Hold Hold" not in card
    bench = words("/")
    assert re.search(r"Linnet fork, travel 160 → 150 mm Charged, do not open", bench)
    assert not re.search(r"do not open, ", bench)
    shelf = words("/shelf/")
    overview = words("/jobs/214/steps/all/")
    assert "7 of 14 · 4" in overview and "7 · 14 · 4" not in overview, "the clicks, and how many there are in all"
    assert "a fork or shock" in words("/jobs/new/") and "A new unit" not in words("/jobs/new/")
    assert "for a wheel of 622" in shelf and ", bore 622" not in shelf and "travel 160" in shelf
    rests = words("/jobs/214/plan/")
    assert "bumper’s length 8 mm" in rests.replace("\u00a0", " ") and "lower legs’ air volume" in rests


def test_clicks_are_said_from_closed_also_where_nobody_counted_them_all() -> None:
    for reach, said in ((None, "6, clicks from closed"), (12, "6 of 12, clicks from closed")):
        row = Reading(kind="rebound", value_si=6.0, unit="", dimension="", text="6", of_range=reach)
        assert show.in_short(row) == said
    assert show.in_short(Reading(kind="spacers", value_si=2.0, unit="", dimension="", text="2")) == "2"


def test_an_inch_is_never_followed_by_an_in(technician_in: Client, cast: people.Cast) -> None:
    """“The port opens 0.12 in in.”, “hold the fork 3.15 in in”; and beside a box of 150 mm stood “in”."""
    job = hollin_job(cast.owner, fork_air={"port_position": "3 mm"})
    Workshop.objects.create(name="Inches", length_unit="in", started_at=clock.now())
    page = technician_in.get(f"/jobs/{job.number}/plan/", {"travel": "150 mm", "pressure": "70", "spacers": "1"})
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page.content.decode())).replace("\u00a0", " ")
    assert "the port opens 0.12 in short of it" in words, words
    assert not re.search(r"\d in in\b", words)
    box = re.search(r'<input id="travel"[^>]*value="150 mm"[^>]*><span>([^<]*)</span>', page.content.decode())
    assert box is not None and box[1] == ""
    box = re.search(r'<input id="offset"[^>]*value="1.73"[^>]*><span>([^<]*)</span>', page.content.decode())
    assert box is None or box[1] == "in"
