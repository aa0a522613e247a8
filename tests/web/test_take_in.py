"""Take-in: somebody found or new in one box, plain answers to tap, a promise in words, an amount; and no native list anywhere."""

from __future__ import annotations

import re
from datetime import datetime

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.utils import timezone

from topout.web import clock
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Family, Rider, Unit
from topout.web.choices import FEW, NamedRowField, Picks
from topout.web.fields import AskingForm, QuantityField, TwoWays, with_point
from topout.web.jobs.records.models import Instrument, Job
from web import addresses, people
from web.plan_cast import hollin_job
from web.steps_kit import gauge

ASKED = {"asked_title": "50-hour service", "asked": "It knocks.", "technician": "jory", "procedure": ""}
NATIVE = re.compile(r"<select\b")


def test_no_page_of_the_demo_has_a_native_list(demo: object, cast: people.Cast | None = None) -> None:
    from django.contrib.auth.models import User

    for nth in range(FEW + 2):  # with more of everything than can stand there to be tapped, too
        for _ in (0,):
            gauge(f"G{nth}")
            Family.objects.create(name=f"Family {nth}", made_at=clock.now())
            User.objects.create_user(f"hand{nth}")
    client = people.browser(User.objects.filter(is_staff=True).order_by("pk")[0])
    job = Job.objects.filter(unit__isnull=False).order_by("pk")[0]
    more = [
        f"/jobs/new/?rider={job.rider_id}",
        f"/jobs/new/?rider={job.rider_id}&unit={job.unit_id}",
        "/jobs/new/?q=fork",
        "/find/?q=fork",
    ]
    looked = 0
    for address in [*(address for _, address in addresses.all_addresses()), *more]:
        answer = client.get(address)
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            looked += 1
            assert not NATIVE.search(answer.content.decode()), address
    assert looked > 40


@pytest.fixture
def known(cast: people.Cast) -> Rider:
    """A rider with a bike, two units, and what a job left in one of them."""
    with change(cast.owner, "made", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Ilse Varn", phone="0555 0110")
        bike = book.make_bike(doing, rider=rider, name="Sedge hardtail", tables={})
        fork = book.make_unit(doing, bike=bike, name="Linnet fork", tables={})
        book.make_unit(doing, bike=bike, name="Sorrel rear shock", tables={}, kind="shock")
        fork.left = {
            "job": 190,
            "at": "2026-11-01T09:00:00+00:00",
            "next_service": "after 50",
            "readings": {"pressure": "73 psi"},
        }
        book.keep(doing, fork)
    return rider


def test_choosing_fills_rider_bike_and_unit_with_what_was_left(known: Rider, technician_in: Client) -> None:
    page = technician_in.get("/jobs/new/?q=varn").content.decode()
    fork = Unit.objects.get(name="Linnet fork")
    chosen = f"/jobs/new/?rider={known.pk}&amp;unit={fork.pk}"
    assert f'href="{chosen}"' in page and "New rider: “varn”" in page
    chosen = chosen.replace("&amp;", "&")
    page = technician_in.get(chosen).content.decode()
    assert "<h1>Ilse Varn</h1>" in page and re.search(rf'name="unit" value="{fork.pk}"[^>]* checked', page)
    assert "Linnet fork · Sedge hardtail · left with 73 psi" in page and "Someone else" in page
    assert 'type="hidden" name="rider_name"' in page, "nobody is asked for a new name"
    answer = people.send(
        technician_in, "/jobs/new/", {**ASKED, "rider": str(known.pk), "unit": str(fork.pk)}, page_path=chosen
    )
    assert answer.status_code == 303, answer.content.decode()
    job = Job.objects.get()
    assert (job.rider, job.bike, job.unit) == (known, fork.bike, fork) and Rider.objects.count() == 1


def test_the_list_of_the_box_leads_into_the_take_in(known: Rider, technician_in: Client) -> None:
    listed = technician_in.get("/find/?for=take-in&q=ilse", headers={"HX-Request": "true"}).content.decode()
    assert listed.count('role="option"') == 3 and f'href="/jobs/new/?rider={known.pk}&amp;unit=' in listed
    assert 'href="/jobs/new/?name=ilse"' in listed
    assert 'name="rider_name" value="Bo Lund"' in technician_in.get("/jobs/new/?name=Bo%20Lund").content.decode()


def test_a_unit_of_somebody_else_is_not_taken(known: Rider, technician_in: Client, cast: people.Cast) -> None:
    with change(cast.owner, "made", {"made": "another"}) as doing:
        other = book.make_rider(doing, name="Bo Lund")
        theirs = book.make_unit(
            doing, bike=book.make_bike(doing, rider=other, name="Hollin", tables={}), name="Quillon", tables={}
        )
    page = technician_in.get(f"/jobs/new/?rider={known.pk}&unit={theirs.pk}").content.decode()
    assert "Quillon" not in page
    answer = people.send(technician_in, "/jobs/new/", {**ASKED, "rider": str(known.pk), "unit": str(theirs.pk)})
    assert (
        answer.status_code == 422
        and "This unit is not in the Book" in answer.content.decode()
        and not Job.objects.exists()
    )
    for wanted in (
        "rider=99999",
        "rider=x",
        f"rider={known.pk}&unit=x",
        f"rider={known.pk}&unit=99999999",
        "name=" + "x" * 9000,
        "q=" + "%00" * 40,
    ):
        assert technician_in.get(f"/jobs/new/?{wanted}").status_code == 200, wanted


@pytest.mark.parametrize(("typed", "kept"), [
    ("180", "Work up to 180 without a call."), ("179,50", "Work up to 179.50 without a call."), ("call above 90", "call above 90"), ("", ""), ("-5", "-5"),
])  # fmt: skip
def test_an_amount_becomes_a_sentence_and_words_stay(
    known: Rider, technician_in: Client, typed: str, kept: str
) -> None:
    sent = {**ASKED, "rider": str(known.pk), "unit": str(Unit.objects.all()[0].pk), "budget": typed}
    assert people.send(technician_in, "/jobs/new/", sent).status_code == 303
    assert Job.objects.get().budget == kept


def test_a_promise_is_said_in_words_and_echoed(known: Rider, technician_in: Client) -> None:
    sent = {**ASKED, "rider": str(known.pk), "unit": str(Unit.objects.all()[0].pk)}
    assert people.send(technician_in, "/jobs/new/", {**sent, "promised": "tomorrow 16:30"}).status_code == 303
    job = Job.objects.get()
    assert job.promised_at is not None
    ahead = timezone.localtime(job.promised_at)
    assert (ahead.date() - timezone.localtime(clock.now()).date()).days == 1 and f"{ahead:%H:%M}" == "16:30"
    assert (
        technician_in.get("/jobs/new/when/?promised=4 Dec 2026 9h").content.decode() == "Friday 4 December 2026, 09:00"
    )
    assert (
        technician_in.get("/jobs/new/when/?promised=3/4").content.decode()
        == "Is it 3 April or 4 March? Write the month as a word."
    )
    assert technician_in.get("/jobs/new/when/").content == b""
    again = people.field_of(technician_in.get(f"/jobs/{job.number}/change/"), "promised")
    sent = {**ASKED, "promised": again, "asked_title": "another"}
    assert people.send(technician_in, f"/jobs/{job.number}/change/", sent).status_code == 303
    assert Job.objects.get().promised_at == job.promised_at, "what stands in the box is read back as it was"


def test_of_many_one_is_found_by_name(cast: people.Cast) -> None:
    def field() -> NamedRowField:
        made = NamedRowField(Family.objects.all(), required=False)
        return type("F", (AskingForm,), {"family": made})().fields["family"]  # type: ignore[return-value]

    for name in ("Quillon 35", "Quillon 38", "Größe"):
        Family.objects.create(name=name, made_at=clock.now())
    form = type("F", (AskingForm,), {"family": NamedRowField(Family.objects.all(), required=False)})()
    form["family"]
    assert isinstance(form.fields["family"].widget, Picks)
    for nth in range(FEW):
        Family.objects.create(name=f"Linnet {nth}", made_at=clock.now())
    form = type("F", (AskingForm,), {"family": NamedRowField(Family.objects.all(), required=False)})()
    form["family"]
    assert not isinstance(form.fields["family"].widget, Picks)
    found = Family.objects.get(name="Quillon 38")
    for typed in ("Quillon 38", "quillon 38", "38", str(found.pk)):
        assert field().clean(typed) == found, typed
    assert field().clean("grosse").name == "Größe" and field().clean("") is None
    with pytest.raises(ValidationError, match="may be Quillon 35, Quillon 38"):
        field().clean("quil")
    with pytest.raises(ValidationError, match="or others"):
        for name in ("Linnet a", "Linnet b"):
            Family.objects.create(name=name, made_at=clock.now())
        field().clean("linnet")
    with pytest.raises(ValidationError):
        field().clean("Corvin")


@pytest.mark.parametrize(("typed", "read"), [
    ("5,6 bar", "5.6 bar"), ("5,6", "5.6"), ("-0,5 mm", "-0.5 mm"), ("0,125 in", "0.125 in"), ("1234,5", "1234.5"), ("1,23", "1.23"), ("1,2345", "1.2345"),
    ("1.234,5 mm", "1234.5 mm"), ("1,234.5 mm", "1234.5 mm"), ("5.6 bar", "5.6 bar"), ("73 psi", "73 psi"), ("1,2,3", "1,2,3"), (",5", ",5"), ("4,5,", "4,5,"),
])  # fmt: skip
def test_a_decimal_comma_is_a_point(typed: str, read: str) -> None:
    assert with_point(typed) == read


def test_a_comma_that_may_part_thousands_is_asked_about() -> None:
    with pytest.raises(TwoWays, match=r"is it 1.234 mm or 1234 mm\?"):
        with_point("1,234 mm")

    class Form(AskingForm):
        length = QuantityField(dimension="length", unit="mm", low=0, high=9000, label="Length")

    from django.http import QueryDict

    asked = Form(QueryDict("length=1,234 mm"))
    assert not asked.is_valid() and [each.answers for each in asked.doubts] == [("1.234 mm", "1234 mm")]
    assert asked.doubts[0].sentence == "Length: 1,234 mm can be read two ways. Is it 1.234 mm or 1234 mm?"
    answered = Form(QueryDict("length=1,234 mm&mend=length%3D1234 mm"))
    assert answered.is_valid() and answered.cleaned_data["length"].value_si == pytest.approx(1.234)
    plain = Form(QueryDict("length=5,6"))
    assert plain.is_valid() and plain.echo("length").startswith("5.6\xa0mm"), plain.echo("length")


def test_a_reading_is_taken_with_a_comma_and_echoed(technician_in: Client, cast: people.Cast) -> None:
    gauge()
    job = hollin_job(cast.owner)
    assert technician_in.get("/understood/?pressure=5,6 bar").content.decode().startswith("5.6\xa0bar")
    sent = {"pressure": "5,6 bar", "pressure-gauge": "P2"}
    assert people.send(technician_in, f"/jobs/{job.number}/readings/as-left/", sent).status_code == 303
    reading = job.readings.get(stage="as-left", kind="pressure")  # type: ignore[attr-defined]
    assert reading.value_si == pytest.approx(5.6e5) and reading.text == "5.6 bar"
    assert Instrument.objects.count() == 1 and isinstance(reading.at, datetime)


def test_a_job_changed_in_two_tabs_keeps_what_the_first_one_saved(
    owner_in: Client, technician_in: Client, cast: people.Cast
) -> None:
    """The second went over the first, the promised hour with it."""
    job = hollin_job(cast.owner)
    address = f"/jobs/{job.number}/change/"
    as_of = people.field_of(technician_in.get(address), "as_of")
    sent = {
        "asked_title": "travel 140 → 150 mm",
        "asked": "as typed first",
        "technician": "jory",
        "procedure": job.procedure,
    }
    assert people.send(owner_in, address, sent).status_code == 303
    old = {**sent, "asked": "typed in the old tab", "as_of": as_of}
    answer = people.send(technician_in, address, old)
    assert (
        answer.status_code == 422 and "Since this page was drawn, Maud Askel changed it at" in answer.content.decode()
    )
    job.refresh_from_db()
    assert job.asked == "as typed first"
    old["as_of"] = people.field_of(answer, "as_of")
    assert people.send(technician_in, address, old).status_code == 303
    job.refresh_from_db()
    assert job.asked == "typed in the old tab"
