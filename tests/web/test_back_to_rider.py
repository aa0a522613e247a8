"""What a rider is handed with a shock: its own sag, its bolts looked at, the sag of the preload that it leaves with."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from topout.documents.sheet_of_plan import large_spring
from topout.units import System, parse
from topout.web.access.change import change
from topout.web.jobs import core
from topout.web.jobs.records import readings
from topout.web.jobs.records.models import Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release import contradictions
from topout.web.jobs.release.sheet import sheet_of
from web.people import Cast
from web.steps_kit import Answer, Hands, failing, gauge, passing
from web.test_fitting import another
from web.test_shock_plan import full_suspension

COIL = {"rate": "80 N/mm", "preload": "1 mm", "bind": "64 mm"}
READ = {
    "sag-at-shock": "15 mm",
    "sag-at-fork": "32 mm",
    "sag-front": "32 mm",
    "sag-rear": "15 mm",
    "rider-preload": "2 mm",
}
FOUND = {"shock": ("pressure", "150 psi"), "fork": ("pressure", "80 psi"), "coil": ("preload", "1 mm")}


def back_to_its_rider(cast: Cast, of: str) -> Hands:
    """A job that sets a unit up for its rider, its steps begun; `of` is "shock", "fork" or "coil", a shock on one."""
    gauge()
    job = full_suspension(cast.technician, shock_coil=COIL) if of == "coil" else full_suspension(cast.technician)
    unit = core.other_end(job) if of == "fork" else job.unit
    procedure = "return-to-rider-coil" if of == "coil" else "return-to-rider"
    hands = Hands(cast.technician, another(cast, job, procedure, unit=unit))
    kind, text = FOUND[of]
    dimension = "pressure" if kind == "pressure" else "length"
    with change(cast.technician, "as found", {}) as doing:
        readings.take(doing, hands.job, "as-found", Taken.quantity(kind, parse(text, dimension), dimension))
    hands.begin()
    return hands


def worked(hands: Hands) -> list[str]:
    """The keys of its steps, every one signed, the lengths of READ read."""
    walked = []
    while (slot := hands.here().current) is not None:
        here = hands.here()
        given = passing(here, slot)
        for each in slot.step.evidence:
            if (text := READ.get(each.key)) is not None:
                given[each.key] = Answer(text=text, value_si=parse(text, "length").value_si, unit="mm")
        hands.sign(slot, given, here=here)
        walked.append(slot.step.key)
    return walked


@pytest.mark.parametrize("of", ["shock", "coil"])
def test_a_shocks_sheet_has_the_shocks_sag_and_names_the_forks(technician_in: Client, cast: Cast, of: str) -> None:
    """32 mm at the fork stood on it as “58 % of the stroke”; what was read at an air shock was kept nowhere."""
    hands = back_to_its_rider(cast, of)
    worked(hands)
    job = Job.objects.get(pk=hands.job.pk)
    sheet = sheet_of(job)[0]
    (large,) = [each for each in sheet.large if each.name.startswith("Sag")]
    # 15 of 55 mm
    assert (large.name, large.number, large.note.replace("\xa0", " ")) == ("Sag, seated", "15", "27 % of the stroke")
    read = {each.name: each.value.replace("\xa0", " ") for each in sheet.left}
    assert read["Sag, of the stroke, seated"] == "15 mm" and read["Sag of the fork, seated"] == "32 mm", read
    assert "Sag of the fork" in [side.label for side in contradictions.sides(job)]
    for place in ("", "readings/as-left/"):  # card, and the page that says what is written already
        page = technician_in.get(f"/jobs/{job.number}/{place}").content.decode()
        assert "Sag of the fork" in page and "Sag, of the stroke" in page, place


def test_a_forks_sheet_has_the_forks_sag_and_the_shocks_beside_it(cast: Cast) -> None:
    hands = back_to_its_rider(cast, "fork")
    assert {"shock-bolts", "sag-behind"}.isdisjoint(worked(hands))
    sheet = sheet_of(Job.objects.get(pk=hands.job.pk))[0]
    (large,) = [each for each in sheet.large if each.name.startswith("Sag")]
    assert (large.name, large.number) == ("Sag, standing", "32") and "of the travel" in large.note
    assert {"Sag, standing": "32 mm", "Sag, of the stroke, standing": "15 mm"}.items() <= {
        each.name: each.value.replace("\xa0", " ") for each in sheet.left
    }.items()


@pytest.mark.parametrize(("of", "kind"), [("shock", "sag"), ("fork", "stroke-sag")])
def test_no_sag_of_the_other_end_stands_in_for_one_that_nobody_read(cast: Cast, of: str, kind: str) -> None:
    hands = back_to_its_rider(cast, of)
    with change(cast.technician, "as left", {}) as doing:
        readings.take(doing, hands.job, "as-left", Taken.quantity(kind, parse("32 mm", "length"), "length"))
    large = sheet_of(Job.objects.get(pk=hands.job.pk))[0].large
    assert not any(each.name.startswith("Sag") for each in large), large


@pytest.mark.parametrize("of", ["shock", "coil"])
def test_a_shocks_bolts_are_tight_before_anybody_gets_on(cast: Cast, of: str) -> None:
    hands = back_to_its_rider(cast, of)
    bolts = hands._work("shock-bolts")
    assert bolts is not None and bolts.step.hold
    hands.sign(bolts, failing(hands.here(), bolts))
    said = " ".join(sheet_of(Job.objects.get(pk=hands.job.pk))[0].before_ride)
    assert "Brake, axle and stem were checked" in said and "Check the shock’s bolts before the first ride." in said, (
        said
    )
    assert hands.here().current == bolts, "the rider waits"
    walked = worked(hands)
    assert walked.index("shock-bolts") < walked.index("rider-mass")
    said = " ".join(sheet_of(Job.objects.get(pk=hands.job.pk))[0].before_ride)
    assert "The shock’s bolts, brake, axle and stem were checked" in said and "Check the shock’s bolts" not in said, (
        said
    )


def test_the_sag_of_a_coil_is_read_after_its_preload_was_turned(cast: Cast) -> None:
    """It was read before: the sheet gave the sag of one preload beside another. And the card is written of what was read last."""
    walked = worked(back_to_its_rider(cast, "coil"))
    assert walked.index("rider-preload") < walked.index("sag-behind") < walked.index("coil-rider-card")


def test_a_coils_sheet_gives_its_rate_and_how_far_it_is_wound_up(cast: Cast) -> None:
    """What the rider’s card asks for, rate and preload, did not stand among its large figures. 80 N/mm are 456.8 lbf/in."""
    hands = back_to_its_rider(cast, "coil")
    worked(hands)
    large = sheet_of(Job.objects.get(pk=hands.job.pk))[0].large
    spring = next(each for each in large if each.name == "Spring")
    said = (spring.number, spring.unit, spring.note.replace("\xa0", " "))
    assert said == ("80", "N/mm", "457 lbf/in, wound up 2 mm"), said
    inches = large_spring(80e3, 0.002, System(metric=False))  # as it is printed on it, no tenths of a pound
    assert inches is not None
    assert (inches.number, inches.unit, inches.note.replace("\xa0", " ")) == (
        "457", "lbf/in", "80 N/mm, wound up 0.08 in"
    )  # fmt: skip
    assert [each.name for each in large] == ["Spring", "Sag, seated", "Rebound"]


@pytest.mark.parametrize(
    ("of", "key", "label"), [("shock", "sag-behind", "Sag, at the shock"), ("fork", "sag", "Sag, front")]
)
def test_a_sag_has_its_keys_on_the_list(technician_in: Client, cast: Cast, of: str, key: str, label: str) -> None:
    """Its row had the postures alone: a tap on “Seated” signed “Measure the sag”, and there was nowhere to write it."""
    hands = back_to_its_rider(cast, of)
    assert hands._work(key) is not None
    here = technician_in.get(f"/jobs/{hands.job.number}/steps/", follow=True)
    row = re.search(rf'<li [^>]*id="row-{hands.here().current.number}".*?</li>', here.content.decode(), re.S)  # type: ignore[union-attr]
    assert row is not None
    assert f'href="?put={key}"' in row[0] and f"<span>{label} …</span>" in row[0], row[0]
    form = technician_in.get(f"{here.request['PATH_INFO']}?put={key}").content.decode()
    for each in hands.here().current.step.evidence:  # type: ignore[union-attr]
        assert f'name="{each.key}"' in form, each.key


def test_the_riders_card_is_written_of_the_pressure_that_stays_in(cast: Cast) -> None:
    walked = worked(back_to_its_rider(cast, "shock"))
    assert walked.index("rider-pressure") < walked.index("rider-card")
