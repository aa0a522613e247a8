"""The workshop's units stand first: the same pages in psi and mm, in bar and mm, in bar and inches; what was typed stays as typed."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.test import Client

from topout import units
from topout.web import clock
from topout.web.access import preferences
from topout.web.access.models import Workshop
from topout.web.fields import QuantityField
from topout.web.jobs.records.models import Job, Reading
from topout.web.jobs.release import contradictions
from web import people

PLAN = "/jobs/214/plan/"


@pytest.fixture
def owner(demo: Path) -> Client:
    return people.browser(User.objects.get(username="maud"))


def first_in(pressure: str, length: str) -> None:
    Workshop.objects.update(pressure_unit=pressure, length_unit=length)


def names(page: people.HasContent) -> list[str]:
    """What the rows of the page's tables are called."""
    return [
        re.sub("<[^>]+>", "", text)
        for text in re.findall(r'<th scope="row"[^>]*>(.*?)</th>', page.content.decode(), re.DOTALL)
    ]


def box(page: people.HasContent, name: str) -> str:
    """What stands in a box; "" where nothing does."""
    (tag,) = re.findall(rf'<input[^>]*name="{name}"[^>]*>', page.content.decode())
    return "".join(re.findall(r'value="([^"]*)"', tag))


@pytest.mark.parametrize(
    ("pressure", "length", "sag", "set_"),
    [("psi", "mm", "mm", "psi"), ("bar", "mm", "mm", "bar"), ("bar", "in", "in", "bar")],
)
def test_the_plans_table_is_in_the_workshops_units(
    owner: Client, pressure: str, length: str, sag: str, set_: str
) -> None:
    first_in(pressure, length)
    told = names(owner.get(PLAN))
    rows = [name for name in told if name.startswith("Pressure")]
    assert rows and rows[0].startswith(f"Pressure, {set_}"), rows
    lengths = [name for name in told if name.startswith(("Sag, ", "Wheelbase, ", "Trail, "))]
    assert lengths and all(name.split(", ")[1].split(";")[0] == sag for name in lengths if "%" not in name), lengths


def test_a_bare_number_counts_as_the_unit_beside_the_box(owner: Client) -> None:
    """In a bar workshop "5" is five bar, on the page, in what is understood while typing, and in the record."""
    first_in("bar", "mm")
    job = Job.objects.exclude(readings__stage="as-found").order_by("-number")[0]
    path = f"/jobs/{job.number}/readings/as-found/"
    page = owner.get(path).content.decode()
    box = re.findall(r'<label for="id_pressure">([^<]*)', page)
    assert box and "bar" in box[0], box
    assert "72.5" in owner.get("/understood/?pressure=5").content.decode()
    assert "hx-include" in "".join(re.findall(r'<input[^>]*name="pressure"[^>]*>', page)), "and of a page drawn before"
    assert owner.get("/understood/?pressure=5&drawn_in=psi-mm").content.decode().startswith("5\xa0psi")
    answer = people.send(owner, path, {"pressure": "5", "pressure-gauge": "P2"})
    assert answer.status_code == 303, answer.content.decode()[:3000]
    row = Reading.objects.filter(job=job, kind="pressure").latest("pk")
    assert row.unit == "bar" and row.value_si == pytest.approx(5e5)
    typed = people.send(owner, path, {"pressure": "73 psi", "pressure-gauge": "P2"})
    assert typed.status_code == 303
    row = Reading.objects.filter(job=job, kind="pressure").latest("pk")
    assert row.unit == "psi" and row.value_si == pytest.approx(units.to_si(73, "psi", "pressure"))


def test_the_limits_of_a_box_are_the_same_in_every_unit() -> None:
    """Only what a bare number counts as changes: what was refused before is refused now."""
    plain = QuantityField(dimension="pressure", unit="psi", low=0, high=870, likely=(15, 300))
    other = QuantityField(dimension="pressure", unit="psi", low=0, high=870, likely=(15, 300), first="bar")
    assert (plain.low_si, plain.high_si, plain.likely) == (other.low_si, other.high_si, other.likely)
    assert other.clean("5").value_si == 5e5 and plain.clean("5").value_si == units.to_si(5, "psi", "pressure")
    with pytest.raises(Exception, match="0 to 59.98 bar"):
        other.clean("61")


def test_outside_of_a_page_nothing_is_asked_of_the_database() -> None:
    """There is none here: a form's class is made when the room is imported."""
    assert preferences.system() == units.BENCH and preferences.unit("pressure", "psi") == "psi"


def test_heights_stay_in_metres(demo: Path) -> None:
    first_in("psi", "in")
    with preferences.read_once():
        assert preferences.unit("length", "m") == "m" and preferences.unit("length", "mm") == "in"


def test_the_planned_pressure_of_a_hand_over_is_not_rounded_to_whole_bars(demo: Path) -> None:
    """It was: 4.83 bar stood there as "5 bar", beside what was left."""
    first_in("bar", "mm")
    job = Job.objects.get(number=214)
    with preferences.read_once():
        planned = next(row.planned for row in contradictions.sides(job) if row.label == "Pressure")
    number = float(planned.partition(units.NO_BREAK)[0])
    assert planned.endswith("bar") and number != round(number) and 3 < number < 7


def test_the_switch_of_the_page_changes_no_record(owner: Client) -> None:
    """Stored readings and frozen plans stay in the words they were made in."""
    before = list(Reading.objects.order_by("pk").values_list("text", "unit", "value_si"))
    first_in("bar", "in")
    with clock.frozen():
        assert owner.get("/jobs/214/").status_code == 200
    assert list(Reading.objects.order_by("pk").values_list("text", "unit", "value_si")) == before


def test_the_table_of_keeps_says_its_figures_in_the_units_of_its_heads(owner: Client) -> None:
    """It said millimetres and newtons below "sag, in" and "bottom-out, lbf"."""
    found = {}
    for length in ("mm", "in"):
        first_in("psi", length)
        page = owner.get(PLAN).content.decode()
        section = page.partition('id="keeps"')[2]
        assert f"sag, {length}" in section
        sags = re.findall(r'<td class="n f1">([\d.]+)<i>([\d.]*)</i></td>', section)
        ends = re.findall(r'<td class="n">([\d\u202f]+)</td><td class="n"><a', section)
        found[length] = (
            [float(whole + rest) for whole, rest in sags],
            [float(end.replace("\u202f", "")) for end in ends],
        )
    assert len(found["mm"][0]) >= 3 and len(found["mm"][0]) == len(found["in"][0]) == len(found["in"][1])
    assert found["in"][0] == pytest.approx([mm / 25.4 for mm in found["mm"][0]], abs=0.006)
    assert found["in"][1] == pytest.approx([newton / 4.448222 for newton in found["mm"][1]], abs=1.7)


def test_a_sheet_that_was_handed_over_keeps_its_bytes(owner: Client) -> None:
    """It was read in one system and signed so; another workshop's unit later changes no letter of it."""
    kept = owner.get("/jobs/206/sheet.pdf")
    assert kept.status_code == 200 and kept.content.startswith(b"%PDF")
    first_in("bar", "in")
    assert owner.get("/jobs/206/sheet.pdf").content == kept.content


@pytest.mark.parametrize(
    ("pressure", "length", "says"),
    [
        ("psi", "mm", '"62 psi" or "4.3 bar"'),
        ("bar", "mm", '"4.3 bar" or "62 psi"'),
        ("bar", "in", '"4.3 bar" or "62 psi"'),
    ],
)
def test_what_is_expected_is_shown_in_the_workshops_unit_first(
    owner: Client, pressure: str, length: str, says: str
) -> None:
    """A bar workshop was told to write “62 psi”."""
    first_in(pressure, length)
    job = Job.objects.exclude(readings__stage="as-found").order_by("-number")[0]
    refused = people.send(owner, f"/jobs/{job.number}/readings/as-found/", {"pressure": "about right"})
    assert refused.status_code == 422 and says in html.unescape(refused.content.decode())
    asked = owner.get(PLAN, {"pressure": "about right"})
    assert says in html.unescape(asked.content.decode())


def test_an_example_stands_in_the_unit_that_a_bare_number_counts_as() -> None:
    assert units.example("pressure") == '"62 psi" or "4.3 bar"' and units.example("volume", "l") == '"245 ml"'
    assert units.example("length", "in") == '"1.73 in" or "44 mm"'
    field = QuantityField(dimension="pressure", unit="psi", low=0, high=870)
    field.count_in("bar")
    assert field.error_messages["required"] == 'Write it, as in "4.3 bar" or "62 psi".'


def test_a_page_that_was_drawn_in_other_units_counts_in_those(owner: Client) -> None:
    """Drawn in bar, sent after the workshop was set to psi: "5" beside "bar" was taken for five psi."""
    first_in("bar", "mm")
    job = Job.objects.exclude(readings__stage="as-found").order_by("-number")[0]
    path = f"/jobs/{job.number}/readings/as-found/"
    page = owner.get(path)
    sent = {name: people.field_of(page, name, -1) for name in ("csrfmiddlewaretoken", "change_key", "drawn_in")}
    first_in("psi", "in")
    wrong = owner.post(path, sent | {"pressure": "99", "pressure-gauge": "P2"})
    assert wrong.status_code == 422 and 'value="bar-mm"' in wrong.content.decode(), "and is drawn again in those"
    answer = owner.post(path, sent | {"pressure": "5", "pressure-gauge": "P2"})
    assert answer.status_code == 303, answer.content.decode()[:3000]
    row = Reading.objects.filter(job=job, kind="pressure").latest("pk")
    assert row.unit == "bar" and row.value_si == pytest.approx(5e5)
    assert "psi-in" in owner.get(path).content.decode()


def test_a_plan_page_that_was_drawn_in_other_units_is_worked_out_in_those(owner: Client) -> None:
    first_in("bar", "mm")
    boxes = {name: people.field_of(owner.get(PLAN), name) for name in ("pressure", "travel", "drawn_in")}
    now = names(owner.get(PLAN, boxes))
    first_in("psi", "in")
    assert names(owner.get(PLAN, boxes)) == now and any(name.startswith("Pressure, bar") for name in now)


def test_figures_of_a_draft_are_left_out_after_the_units_changed(owner: Client) -> None:
    """Kept as "5" beside "bar", it stood in the box beside "psi" the day after."""
    first_in("bar", "mm")
    job = Job.objects.exclude(readings__stage="as-found").order_by("-number")[0]
    path = f"/jobs/{job.number}/readings/as-found/"
    page = owner.get(path)
    sent = {name: people.field_of(page, name, -1) for name in ("csrfmiddlewaretoken", "change_key", "drawn_in")}
    typed = {"pressure": "5", "negative-pressure": "4,5", "condition": "dusty", "exposed-length": "150 mm"}
    assert owner.post(f"{path}draft/", sent | typed).status_code == 200
    again = owner.get(path)
    assert box(again, "pressure") == "5" and "left out" not in again.content.decode()
    first_in("psi", "mm")
    later = owner.get(path)
    assert box(later, "exposed-length") == "150 mm" and "dusty" in later.content.decode()
    assert not box(later, "pressure") and not box(later, "negative-pressure")
    assert "Figures without a unit are left out" in later.content.decode()
