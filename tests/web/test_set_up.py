"""The telephone call: from the box to the figure, for another weight too; nothing is said that can't be worked out."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from django.test import Client

from topout import units
from topout.bench_file.read import read_text
from topout.planner.by_mass import by_mass
from topout.units import from_si
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book import tables as bench_tables
from topout.web.book.models import Rider, Unit
from topout.web.demo.load import BOTH_JOB
from topout.web.jobs.core.by_mass import ForMass, for_masses
from topout.web.jobs.core.left import left_beside, left_on_unit
from topout.web.jobs.records.models import Job, Reading
from web import people
from web.outside_cast import outside_job
from web.steps_kit import BENCH


@pytest.fixture
def rider(cast: people.Cast) -> Rider:
    """Somebody weighed, with a fork that is known and one that is not, and a shock."""
    parts = bench_tables.take_apart(
        BENCH.partition("[change]")[0].encode(), bench_tables.RIDER, bench_tables.BIKE, bench_tables.UNIT
    )
    with change(cast.owner, "made", {"made": "for a test"}) as doing:
        who = book.make_rider(doing, name="Ilse Varn", phone="0555 0110", tables=parts[0])
        bike = book.make_bike(doing, rider=who, name="Sedge", tables=parts[1])
        fork = book.make_unit(
            doing,
            bike=bike,
            name="Linnet fork",
            tables={name: value for name, value in parts[2].items() if name.startswith("fork")},
        )
        fork.left = {
            "job": 190,
            "at": "2026-11-01T09:00:00+00:00",
            "next_service": "after 50",
            "readings": {"pressure": "70 psi", "rebound": "7 of 14"},
        }
        book.keep(doing, fork)
        book.make_unit(doing, bike=bike, name="Corvin rear shock", tables={}, kind="shock")
        other = book.make_bike(doing, rider=who, name="Sedge two", tables=parts[1])
        book.make_unit(doing, bike=other, name="Ashlar fork", tables={})
    return who


def rows(page: str) -> dict[str, str]:
    """Weight and what stands beside it, without marks."""
    found = re.findall(r'<th scope="row"[^>]*>(.*?)</th><td[^>]*>(.*?)</td>', page, re.S)
    plain = [(re.sub("<[^>]*>", "", one), re.sub("<[^>]*>", "", two)) for one, two in found]
    return {one.replace("\xa0", " ").strip(): two.replace("\xa0", " ").strip() for one, two in plain}


def test_from_the_box_to_the_figure_in_two_taps(rider: Rider, technician_in: Client) -> None:
    listed = technician_in.get("/find/?q=ilse", headers={"HX-Request": "true"}).content.decode()
    assert f'href="/book/riders/{rider.pk}/"' in listed
    page = technician_in.get(f"/book/riders/{rider.pk}/").content.decode()
    assert "left with <b>70 psi</b>" in page and f'href="/riders/{rider.pk}/set-up/"' in page
    page = technician_in.get(f"/riders/{rider.pk}/set-up/").content.decode()
    assert "7 of 14" in page and "job 190" in page
    told = rows(page)
    assert told["79 kg as weighed"].startswith("70 psi"), "the file's own rider keeps what was left"
    assert len(told) == 10 and "<button" in page


def test_another_weight_stands_there_as_the_planner_has_it(rider: Rider, technician_in: Client) -> None:
    page = technician_in.get(f"/riders/{rider.pk}/set-up/?mass=82,5").content.decode()
    said = rows(page)["82.5 kg asked"]
    text = bench_tables.toml(
        bench_tables.merged(
            rider.tables, Unit.objects.get(name="Linnet fork").bike.tables, Unit.objects.get(name="Linnet fork").tables
        )
    )  # type: ignore[union-attr]
    psi = from_si(float(by_mass(read_text(text), np.array([82.5])).pressure_gauge_pa[0]), "psi", "pressure")
    assert said.startswith(f"{psi:.0f} psi") and "bar" in said
    for wrong in ("900", "soft", "-4", "1,234", "\0", "9" * 500):
        answer = technician_in.get(f"/riders/{rider.pk}/set-up/", {"mass": wrong})
        assert answer.status_code == 422 and "asked" not in answer.content.decode(), wrong


def test_above_the_makers_limit_no_figure_is_given(rider: Rider, technician_in: Client) -> None:
    unit = Unit.objects.get(name="Linnet fork")
    unit.tables["fork.air"]["pressure_limit"] = "80 psi"
    unit.save()
    told = rows(technician_in.get(f"/riders/{rider.pk}/set-up/").content.decode())
    over = {weight: said for weight, said in told.items() if "limit" in said}
    assert (
        over
        and all("psi" not in said.partition("limit")[0] for said in over.values())
        and "79 kg as weighed" not in over
    )
    assert all(float(said.split()[0]) <= 80 for weight, said in told.items() if weight not in over)


def test_what_can_not_be_worked_out_is_not_said(rider: Rider, technician_in: Client) -> None:
    page = technician_in.get(f"/riders/{rider.pk}/set-up/").content.decode()
    ashlar = page[page.index("Ashlar fork") :].partition("</section>")[0]
    assert "nothing can be worked out" in ashlar and "the fork is not known" in ashlar and not rows(ashlar)
    shock = page[page.index("Corvin rear shock") :].partition("</section>")[0]
    assert "nothing can be worked out: the shock" in " ".join(shock.split()) and not rows(shock)
    Rider.objects.filter(pk=rider.pk).update(tables={})
    page = technician_in.get(f"/riders/{rider.pk}/set-up/?mass=80").content.decode()
    assert "the rider’s weight" in page and not rows(page), "for another weight there is nothing to go by"


def test_an_erased_rider_and_a_stranger_get_nothing(
    rider: Rider, technician_in: Client, stranger: Client, owner_in: Client
) -> None:
    assert stranger.get(f"/riders/{rider.pk}/set-up/").status_code == 302
    assert people.send(owner_in, f"/book/riders/{rider.pk}/erase/", {}).status_code == 303
    assert technician_in.get(f"/riders/{rider.pk}/set-up/").status_code == 404


def test_a_shock_whose_leverage_stands_with_the_bike_has_its_table(demo: Path) -> None:
    """It said that the leverage is not known: what the bike has of it was left out of every unit."""
    job = Job.objects.get(number=BOTH_JOB)
    assert job.bike is not None and "shock" in job.bike.tables and job.unit is not None and job.rider is not None
    told = for_masses(job.rider, job.bike, job.unit)
    assert not told.lacking and told.behind and any(row.own and row.pressure for row in told.rows)


def test_a_shocks_sag_in_the_book_goes_with_its_setting() -> None:
    """It stayed where the pressure was left another, and the next plan took its load from both: 14 mm at a pressure it never had."""

    def read(kind: str, text: str, dimension: str) -> Reading:
        typed = units.parse(text, dimension)
        return Reading(kind=kind, value_si=typed.value_si, unit=typed.unit, dimension=dimension)

    shock = Unit(
        kind="shock", tables={"shock": {"stroke": "55 mm", "sag": "14 mm"}, "shock.air": {"pressure": "150 psi"}}
    )
    for left, sag in (
        ({"pressure": read("pressure", "150 psi", "pressure")}, "14 mm"),
        ({"pressure": read("pressure", "170 psi", "pressure")}, None),
        ({"pressure": read("pressure", "170 psi", "pressure"), "stroke-sag": read("stroke-sag", "12 mm", "length")}, "12 mm"),
        ({"pressure": read("pressure", "170 psi", "pressure"), "stroke-sag": read("stroke-sag", "0 mm", "length")}, None),
    ):  # fmt: skip
        own = left_on_unit(shock, left, None)
        assert own["shock"].get("sag") == sag and own["shock.air"]["pressure"] in ("150 psi", "170 psi"), left
        assert left_beside(shock, left)["shock"].get("sag") == sag, left
        assert shock.tables["shock"]["sag"] == "14 mm", "the unit itself is not written into"


def test_a_fork_of_which_the_outside_is_known_has_its_table_with_limits(
    cast: people.Cast, technician_in: Client
) -> None:
    """It had none: what bore and volumes are was asked for, where a shock like it had its table."""
    job = outside_job(cast.owner)
    assert job.bike is not None and job.unit is not None
    told = for_masses(job.rider, job.bike, job.unit)
    assert told.drawn and not told.behind and not told.lacking and told.limit.startswith("120")
    own = next(row for row in told.rows if row.own)
    assert own.pressure.replace("\xa0", " ") == "72 psi, 71 psi to 73 psi", "what is fitted, to the gauge's mark"
    assert " to " in told.sag and told.guessed, "the sag is an estimate, the front weight drawn"
    page = technician_in.get(f"/riders/{job.rider.pk}/set-up/?mass=88").content.decode()
    said = rows(page)
    assert re.fullmatch(r"\d+ psi, \d+ psi to \d+ psi", said["88 kg asked"]), said
    assert "beside each figure, what holds for 19 of 20 that fit" in page
    for weight, figure in said.items():
        if figure.startswith("may be above"):
            assert weight.startswith(("95", "100", "105"))
    job.unit.tables["fork.air"]["pressure_limit"] = "73 psi"
    job.unit.save()
    limited = rows(technician_in.get(f"/riders/{job.rider.pk}/set-up/").content.decode())
    assert limited["85 kg"].startswith("may be above the maker’s limit") and limited["80 kg"].startswith("7")


def test_of_a_table_without_rows_nothing_is_said_but_what_it_lacks() -> None:
    told = ForMass((), lacking=("the leverage",))
    assert not any((told.sag, told.limit, told.guessed, told.faults, told.on_coil, told.behind, told.drawn))
