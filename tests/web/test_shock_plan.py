"""A full-suspension bike's plan: both ends on one page, the shock's half put to use, shown, worked by, and refused where it must be."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.test import Client

from topout import units
from topout.bench_file.model import Ride, Wheel
from topout.planner import by_mass, landing, rebound, replies, ride, target
from topout.planner import plan as planner
from topout.planner.inexact import MOVING
from topout.planner.plan import plan as plan_of
from topout.planner.wanted import Wanted
from topout.web.access import preferences
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book import tables as bench_tables
from topout.web.book.models import Unit
from topout.web.jobs import core
from topout.web.jobs.core import figures, step_numbers
from topout.web.jobs.core import left as core_left
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import FrozenPlan, Job
from topout.web.jobs.records.plans import current_plan
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.records.texts import NoSteps
from topout.web.jobs.release import contradictions
from topout.web.jobs.release.sheet import sheet_of
from topout.web.jobs.steps.progress import walk
from topout.web.shelf import keeping as shelf
from web import people
from web.outside_cast import few_draws
from web.plan_cast import hollin_job, press
from web.test_use_plan import REASON, path, use, words_of

FILE = (Path(__file__).parents[2] / "examples" / "rear-shock.toml").read_bytes()
ASKED = {"shock_pressure": "146", "shock_spacers": "2"}
COIL = {"rate": "70 N/mm", "preload": "1 mm", "bind": "62 mm"}


def full_suspension(who: Any, end: str = "shock", without: tuple[str, ...] = (), **instead: dict[str, Any]) -> Job:
    """The bike of examples/rear-shock.toml in the Book with its fork and its shock; the job is of one of them.

    `without` leaves keys out ("shock.leverage"), `instead` lays others over: `shock_air={"pressure_limit": "140 psi"}`.
    """
    rider_tables, bike_tables, every = book.take_apart(FILE)
    parts: bench_tables.Tables = {name: dict(held) for kind in every.values() for name, held in kind.items()}
    for key in without:
        table, _, word = key.rpartition(".")
        (parts if table in parts else bike_tables)[table].pop(word)
    for name, keys in instead.items():
        table = name.replace("_", ".") if name.startswith(("shock", "fork")) else name
        (bike_tables if table in bench_tables.BIKE else parts).setdefault(table, {}).update(keys)
    if "shock.coil" in parts:
        del parts["shock.air"]
    found = parts["shock.air"].pop("pressure") if end == "shock" and "shock.air" in parts else None
    with change(who, "full-suspension", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Idris Moorcott", tables=rider_tables)
        bike = book.make_bike(doing, rider=rider, name="Corrie enduro", tables=bike_tables)
        made = {
            noun: book.make_unit(
                doing, bike=bike, name=f"The {noun}", kind=kind,
                tables={name: held for name, held in parts.items() if name.partition(".")[0] == noun and held},
            )
            for noun, kind in (("fork", "fork"), ("shock", "coil-shock" if "shock.coil" in parts else "shock"))
        }  # fmt: skip
        job = changes.take_in(
            doing, rider=rider, bike=bike, unit=made[end], asked_title="firmer behind", asked="It bottoms.",
            procedure="rear-shock-air-can" if end == "shock" else "",
        )  # fmt: skip
        if end == "shock" and found is not None:
            readings.take(
                doing, job, "as-found", Taken.quantity("pressure", units.parse(found, "pressure"), "pressure")
            )
            readings.take(doing, job, "as-found", Taken.count("spacers", 1))
    return job


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", text)).replace("\u00a0", " ").replace("\u202f", " "))


def test_one_page_answers_for_both_ends(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician)
    page = technician_in.get(path(job), ASKED).content.decode()
    said = plain(page)
    file = core.bench(job, {"change.shock": {"pressure": "146 psi", "spacers": 2}})
    worked = planner.plan(file)
    assert worked.after.sag is not None and worked.after.sag.rear is not None and worked.after.sag.front is not None
    rear = worked.after.sag.rear
    assert rear.share_of_stroke is not None and rear.share_of_wheel_travel is not None
    of_stroke, of_wheel = (f"{100 * share:.1f}" for share in (rear.share_of_stroke, rear.share_of_wheel_travel))
    assert of_stroke != of_wheel, "a share of the stroke is no share of the wheel's travel"
    assert f"({of_stroke} % of the stroke, {of_wheel} % of the wheel’s travel)" in said
    assert "Shock: set 146 psi · 10.1 bar with two volume spacers" in said
    assert "1 · Both ends at sag , to scale" in said.replace(" ,", " ,") or "Both ends at sag" in said
    for picture in ("Force at the wheel along", "Leverage ratio along", "Wheel rate along", "Both ends"):
        assert picture in said, picture
    assert "from 5 pairs of the frame’s sheet" in said and "The values of these pictures" in said
    assert re.search(r'id="end-shock"[^>]* checked', page) and re.search(r'name="pressure" value="80"', page)
    assert page.index('id="part-stance"') < page.index('id="part-behind"') < page.index('id="part-force"')
    assert said.index("At free length the air pushes on the can") < said.index("Shock: set"), "what hurts comes first"
    kept = worked.rear.keep.sag.pressure_pa if worked.rear else None
    assert kept is not None and f"Set {units.from_si(kept, 'psi', 'pressure'):.0f} on the shock" in said


def test_a_move_sends_the_rear_part_too(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician)
    boxes = {**ASKED, "travel": "150", "pressure": "80", "spacers": "2", "width": "738", "parts": "behind stance"}
    moved = technician_in.get(path(job), boxes, headers={"HX-Request": "true"}).content.decode()
    assert 'data-into="part-behind"' in moved and 'id="rear-force"' in moved or "rear-force" in moved
    assert 'data-into="part-force"' not in moved and "shock sag" in plain(moved)


def test_without_a_leverage_the_share_of_the_stroke_alone_is_said(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician, without=("shock.leverage",), shock={"sag": "16 mm"})
    page = technician_in.get(path(job), ASKED).content.decode()
    said = plain(page)
    assert (
        "of the wheel’s travel)" not in said and "Leverage ratio along" not in said and "Wheel rate along" not in said
    )
    assert "What the rear wheel travels is not known" in said and "Force of the shock along the shock’s stroke" in said
    assert f"/book/bikes/{job.bike_id}/change/?to=/jobs/{job.number}/plan/#id_shock-leverage" in page, (
        "it is asked for at its box"
    )


def test_a_shock_without_data_is_asked_for_its_sag_in_mm_of_stroke(technician_in: Client, cast: people.Cast) -> None:
    """On the fork's job: the rear end decides 2° of head angle, and the stance at sag is not said before it is known."""
    job = full_suspension(cast.technician, "fork", without=("shock.air.positive_volume", "shock.air.bore"))
    page = technician_in.get(path(job)).content.decode()
    shock = Unit.objects.get(kind="shock")
    assert (
        "the shock’s sag, in mm of its stroke" in plain(page)
        and f"/book/units/{shock.pk}/change/?to=/jobs/{job.number}/plan/#id_shock-sag" in page
    )
    assert "at full extension, to scale" in plain(page) and "Nothing is set behind" not in plain(page)
    shock.tables["shock"]["sag"] = "16 mm"
    shock.save()
    again = plain(technician_in.get(path(job)).content.decode())
    assert "Both ends at sag" in again and "the shock’s sag, in mm" not in again


def test_it_is_put_to_use_and_comes_out_again(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician)
    assert use(technician_in, job, ASKED).status_code == 303
    frozen = FrozenPlan.objects.get()
    assert frozen.sentence.replace("\u00a0", " ") == "Shock: set 146 psi · 10.1 bar with two volume spacers."
    whole = tomllib.loads(frozen.bench_file)
    assert (
        whole["change"]["shock"] == {"pressure": "146 psi", "spacers": 2}
        and whole["shock"]["air"]["pressure"] == "150 psi"
    )
    again = core.recompute(frozen)
    assert again.same_version and again.holds
    card = words_of(technician_in.get(f"/jobs/{job.number}/"))
    assert "Shock: set 146 psi" in card and "share of the stroke" in card and "share of the wheel’s travel" in card
    page = technician_in.get(path(job)).content.decode()
    assert re.search(r'name="shock_pressure" value="146"', page), "the plan in use stands in its boxes"


@pytest.mark.parametrize("end", ["shock", "fork"])
def test_a_card_of_both_ends_says_whose_sag_is_whose(technician_in: Client, cast: people.Cast, end: str) -> None:
    """“Sag, mm” stood first on a shock’s card, and was the fork’s."""
    job = full_suspension(cast.technician, end)
    assert (
        press(technician_in, job, ASKED if end == "shock" else {"travel": "140", "pressure": "84"}).status_code == 303
    )
    card = technician_in.get(f"/jobs/{job.number}/").content.decode()
    heads = [plain(each) for each in re.findall(r'<th scope="row">(.*?)</th>', card)]
    assert "Fork: sag, mm" in heads and "Fork: bottom-out force, N" in heads, heads
    assert "Sag, mm" not in heads and any(each.startswith("Sag, stroke used") for each in heads), heads


def test_the_steps_set_what_the_plan_sets(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician)
    press(technician_in, job, ASKED)
    numbers = step_numbers.numbers(FrozenPlan.objects.get())
    assert numbers.set_pressure_gauge_pa == pytest.approx(units.to_si(146, "psi", "pressure"))
    assert (numbers.spacers_before, numbers.spacers_after) == (1, 2) and numbers.new_travel_m is None
    assert numbers.after is not None and float(numbers.after.travel_m[0]) == pytest.approx(0.055), (
        "the can's, not the fork's"
    )
    keys = [slot.step.key for slot in walk(job).slots]
    assert "can-spacers-plan" in keys and "can-spacers-back" not in keys and "shock-inflate" in keys
    overview = words_of(technician_in.get(f"/jobs/{job.number}/steps/all/"))
    assert "Pump to 146 psi" in overview and "Fit 2 volume spacers on the main side" in overview


def test_without_a_plan_the_can_gets_back_what_came_out_of_it(cast: people.Cast) -> None:
    keys = [slot.step.key for slot in walk(full_suspension(cast.technician)).slots]
    assert "can-spacers-back" in keys and "can-spacers-plan" not in keys


def test_the_sheet_is_the_shocks(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician)
    press(technician_in, job, ASKED)
    sheet, _ = sheet_of(job)
    large = {each.name: f"{each.number} {each.unit}".strip() for each in sheet.large}
    assert large["Pressure"] == "146 psi", "the fork holds 80"
    assert large["Volume spacers"] == "2"
    sag = next(each for each in sheet.large if each.name.startswith("Sag"))
    assert "of the stroke" in sag.note and "of the travel" not in sag.note
    frozen = current_plan(job)
    assert frozen is not None
    held = contradictions._plan(frozen)
    assert held.stroke_was_m == held.stroke_m == pytest.approx(0.055), "what stays need not be read once more"
    assert "Shock: set 146" in plain(sheet.changed) and "% of the wheel’s travel" in plain(sheet.changed)
    assert sheet.masses is not None and sheet.masses.here is not None
    rows = [plain(" ".join(row)) for row in sheet.masses.rows]
    after = planner.plan(core.bench(job, core.change_of(job))).after.sag
    assert after is not None and after.rear is not None and after.rear.stroke_m is not None
    told = by_mass.behind(figures.changed(core.bench(job, core.change_of(job))), np.array([72.0, 82.0]))
    assert told.sag_m == pytest.approx(after.rear.stroke_m), "the sag that the plan gives"
    assert rows[sheet.masses.here].startswith("82 kg") and "146" in rows[sheet.masses.here]
    light = units.from_si(float(told.pressure_gauge_pa[0]), "psi", "pressure")
    assert rows[sheet.masses.here - 2].startswith("72 kg") and f" {light:.0f} " in rows[sheet.masses.here - 2], rows
    assert sheet.temperatures is not None and "146 psi" in plain(sheet.temperatures.heads[1])
    assert sheet.force is not None and "wheel" in sheet.force.alt


WHYS: dict[str, tuple[dict[str, Any], dict[str, str], str]] = {
    "pressure": (
        {"shock_air": {"pressure_limit": "140 psi"}},
        ASKED,
        "in the shock is above the maker's limit of 140 psi",
    ),
    "spacers": ({"shock_air": {"spacer_limit": 1}}, ASKED, "the maker allows 1"),
    "no spring": ({"without": ("shock.air.positive_volume",)}, ASKED, "Nothing is set behind: the shock’s spring"),
    "tyre": ({"frame": {"rear_tyre_room": "375 mm"}}, ASKED, "rear tyre and frame"),
}


@pytest.mark.parametrize("why", WHYS)
def test_what_must_not_be_built_takes_an_owners_reason(
    owner_in: Client, technician_in: Client, cast: people.Cast, why: str
) -> None:
    instead, boxes, says = WHYS[why]
    job = full_suspension(cast.technician, **instead)
    told = press(technician_in, job, boxes, reason=REASON, reason_for="0" * 16)
    assert told.status_code == 422 and says in words_of(told) and not FrozenPlan.objects.exists()
    assert "Ask an owner" in words_of(told) and 'name="reason"' not in told.content.decode()
    signed_for = people.field_of(press(owner_in, job, boxes), "reason_for")
    assert press(owner_in, job, boxes, reason=REASON, reason_for=signed_for).status_code == 303
    assert FrozenPlan.objects.get().reason == REASON


def test_no_reason_builds_a_shock_that_locks(owner_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.owner, shock_air={"spacer_limit": 20})
    for reason_for in ("", "0" * 16):
        answer = press(
            owner_in, job, {"shock_pressure": "146", "shock_spacers": "18"}, reason=REASON, reason_for=reason_for
        )
        assert answer.status_code == 422 and "shock would lock" in words_of(answer) and not FrozenPlan.objects.exists()
        assert 'name="reason"' not in answer.content.decode()
        assert "Fork: set 80 psi" in words_of(answer), "the fork does not lock"


def test_the_fork_has_its_own_plan_on_the_same_bike(technician_in: Client, cast: people.Cast) -> None:
    """The fork's job: what is set behind is said where it moves, and the fork's Book takes nothing of the shock."""
    job = full_suspension(cast.technician, "fork")
    page = technician_in.get(path(job))
    assert re.search(r'id="end-fork"[^>]* checked', page.content.decode())
    assert press(technician_in, job, {"pressure": "76", "shock_pressure": "140"}).status_code == 303
    frozen = FrozenPlan.objects.get()
    said = frozen.sentence.replace("\u00a0", " ")
    assert said.startswith("Set 76 psi") and "Shock: set 140 psi" in said
    assert job.unit is not None
    assert set(core_left.left_on_unit(job.unit, {}, frozen)) <= {"fork", "fork.air"}
    numbers = step_numbers.numbers(frozen)
    assert numbers.set_pressure_gauge_pa == pytest.approx(units.to_si(76, "psi", "pressure"))
    row = next(each for each in contradictions.sides(job) if each.label == "Pressure")
    assert row.planned.replace("\u00a0", " ") == "76 psi"


def test_the_shocks_book_takes_its_half_and_the_hand_over_compares_it(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician)
    press(technician_in, job, {**ASKED, "pressure": "76"})
    frozen = FrozenPlan.objects.get()
    assert "Fork: set 76 psi" in frozen.sentence.replace("\u00a0", " ")
    assert job.unit is not None
    kept = core_left.left_on_unit(job.unit, {}, frozen)
    assert kept["shock.air"]["pressure"] == "146 psi" and kept["shock.air"]["spacers"] == 2 and "fork.air" not in kept
    row = next(each for each in contradictions.sides(job) if each.label == "Pressure")
    assert row.planned.replace("\u00a0", " ") == "146 psi", "not the fork's 76"
    planned = {each.label: each.planned for each in contradictions.sides(job)}
    assert planned["Volume spacers"] == "2" and "Stroke as measured" not in planned
    with change(cast.technician, "left", {"for": "test"}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("pressure", units.parse("160 psi", "pressure"), "pressure"))
    told = [each.words.replace("\u00a0", " ") for each in contradictions.faults_of(job)]
    assert any("left 160 psi · 11.0 bar, the plan says 146 psi" in words for words in told), told
    assert any("as left is not read; the plan sets 2" in words for words in told)


def test_a_coil_behind_is_planned_and_gets_no_air_steps(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician, shock_coil=COIL)
    said = plain(technician_in.get(path(job), {"shock_rate": "80", "shock_preload": "1"}).content.decode())
    assert "Shock: a coil of 80" in said and "same sag" in said and "Shock pressure" not in said
    assert press(technician_in, job, {"shock_rate": "80", "shock_preload": "1"}).status_code == 303
    with pytest.raises(NoSteps):
        walk(job)
    tall = press(technician_in, job, {"shock_rate": "70", "shock_preload": "12"})
    assert tall.status_code == 422 and "coil binds at" in words_of(tall), "it stops there, hard"


def test_bad_boxes_are_named_and_the_end_with_the_fault_is_shown(technician_in: Client, cast: people.Cast) -> None:
    job = full_suspension(cast.technician, "fork")
    bad = press(technician_in, job, {"shock_pressure": "13 furlong", "shock_spacers": "-1"})
    said = words_of(bad)
    assert (
        bad.status_code == 422
        and "Shock pressure" in said
        and "Shock spacers" in said
        and not FrozenPlan.objects.exists()
    )
    assert re.search(r'id="end-shock"[^>]* checked', bad.content.decode())
    comma = plain(technician_in.get(path(job), {"shock_pressure": "10,07 bar"}).content.decode())
    assert "Shock: set 10.07 bar" in comma or "Shock: set 146" in comma


def test_a_sag_read_at_the_shock_counts_before_the_bikes_wheel_travel(cast: people.Cast) -> None:
    """The reading's kind is "stroke-sag"; the page looked for "sag" and found none."""
    job = full_suspension(cast.technician, rear_wheel={"radius": "371 mm", "sag": "43 mm"})
    assert "sag" in core.tables(job, {})["rear_wheel"]
    with change(cast.technician, "sag", {"for": "test"}) as doing:
        readings.take(
            doing,
            job,
            "as-found",
            Taken.quantity("stroke-sag", units.parse("16 mm", "length"), "length", posture="seated"),
        )
    tables = core.tables(job, {})
    assert tables["shock"]["sag"] == "16 mm" and "sag" not in tables["rear_wheel"]
    bench_tables.read(tables)


def test_a_fork_that_is_drawn_leaves_the_shock_its_pictures(
    technician_in: Client, cast: people.Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the fork the outside alone is known; the shock is described whole, and its curves are no less known for that."""
    few_draws(monkeypatch)
    job = full_suspension(
        cast.technician, without=("fork.air.bore", "fork.air.positive_volume", "fork.air.negative_volume"),
        fork={"stanchion": "36 mm"},
    )  # fmt: skip
    said = plain(technician_in.get(path(job), ASKED).content.decode())
    assert (
        "Force at the wheel along" in said
        and "Leverage ratio along" in said
        and "Between what each answer lies" in said
    )
    assert "Shock: set 146 psi" in said


def test_a_sag_asked_for_behind_is_answered_at_either_end(technician_in: Client, cast: people.Cast) -> None:
    """The page took the share and asked nothing; a shock's job had one line. Answers: `target`, whose own test sets them."""
    for end, coil in (("fork", False), ("shock", False), ("shock", True)):
        job = full_suspension(cast.technician, end, shock_coil=COIL) if coil else full_suspension(cast.technician, end)
        for asked, wanted in (
            ({"rear_share": "28"}, Wanted(rear_share=0.28)),
            ({"rear_sag": "14"}, Wanted(rear_sag_m=0.014)),
        ):
            said = plain(technician_in.get(f"/jobs/{job.number}/questions/", asked).content.decode())
            (line,) = replies.to_targets(target.targets(core.bench(job), wanted, MOVING), preferences.system()).first
            assert plain(line) in said and ("fit a spring of" if coil else "set the shock to") in said, (end, asked)
            assert ("Or wind the one that is there up" in said) == coil, (end, asked)
    twice = technician_in.get(f"/jobs/{job.number}/questions/", {"rear_share": "28", "rear_sag": "14"})
    assert twice.status_code == 422 and "Give the rear sag once" in twice.content.decode()
    assert f'href="/jobs/{job.number}/questions/"' in technician_in.get(path(job)).content.decode()


def test_without_the_leverage_all_but_the_landing_is_told_of_the_stroke(
    technician_in: Client, cast: people.Cast
) -> None:
    job = full_suspension(cast.technician, without=("shock.leverage",))
    with change(cast.technician, "sag", {"for": "test"}) as doing:
        typed = Taken.quantity("stroke-sag", units.parse("16 mm", "length"), "length", posture="seated")
        readings.take(doing, job, "as-found", typed)
    asked = {"rear_share": "28", "temperature": "0", "clicks": "7"}
    said = plain(technician_in.get(f"/jobs/{job.number}/questions/", asked).content.decode())
    assert re.search(
        r"For a rear sag of 15\.4 mm · 0\.61 in of the shock’s stroke \(28\.0 % of the stroke\) set the shock to \d+ psi",
        said,
    )
    assert re.search(r"There it sits [\d.]+ mm of the shock’s stroke deeper\. Set \d+ psi · [\d.]+ bar here", said), (
        said
    )
    assert "the shock’s spring is" in said and said.count(plain(replies.NO_LEVERAGE)) == 3
    assert said.count("Not known, and needed for this: the frame’s leverage ratios.") == 1, "a landing alone"


def test_a_shocks_job_is_asked_for_its_landing_its_ride_and_its_rebound(
    technician_in: Client, cast: people.Cast
) -> None:
    """One line said until now that they are worked out for forks. Answers: the planner's, whose own tests work them out anew."""
    asked = {"temperature": "-5", "clicks": "8", "in_all": "14"}
    for coil in (False, True):
        job = full_suspension(cast.technician, shock_coil=COIL) if coil else full_suspension(cast.technician)
        said = plain(technician_in.get(f"/jobs/{job.number}/questions/", asked).content.decode())
        bench, system = core.bench(job), preferences.system()
        told = [
            replies.to_landing(landing.landing(bench, MOVING, "rear"), system),
            replies.to_rebound(rebound.rebound(bench, 8, 14, MOVING, "rear"), system),
        ]
        if not coil:
            there = replace(bench, ride=Ride(temperature_k=268.15))
            told.append(replies.to_ride(ride.ride(there, MOVING, "rear"), system))
        for reply in told:
            for line in (
                *reply.first,
                *reply.wrong,
                *reply.after,
                *(" ".join(r) for t in reply.tables for r in t.rows),
            ):
                assert plain(line) in said, line
        assert "all the shock’s stroke" in said and "Sag wanted, of the travel" not in said
        assert ("A coil has no pressure to set" in said or "a coil has no pressure to set" in said) == coil


def test_another_weight_is_told_of_a_shock_too(technician_in: Client, cast: people.Cast) -> None:
    """On air the pressure, on a coil the spring or the preload; the rider's own row is what is fitted."""
    for coil in (False, True):
        job = (
            full_suspension(cast.technician, "fork", shock_coil=COIL)
            if coil
            else full_suspension(cast.technician, "fork")
        )
        shock = job.bike.units.get(kind="coil-shock" if coil else "shock")  # type: ignore[union-attr]
        page = technician_in.get(f"/riders/{job.rider_id}/set-up/", {"mass": "95"}).content.decode()
        part = plain(page[page.index(f'/book/units/{shock.pk}/"') :].partition("</section>")[0])
        told = by_mass.behind(core.bench(job), np.array([82.0, 95.0]))
        assert "of the shock’s stroke" in part, part
        if coil:
            assert told.rate_n_per_m is not None and told.rate_n_per_m[0] == pytest.approx(70e3)
            assert "82 kg as weighed a spring of 70 N/mm" in part and "this one wound up 1.0 mm" in part, part
            assert f"95 kg asked a spring of {told.rate_n_per_m[1] / 1e3:.3g} N/mm" in part, part
        else:
            psi = [units.from_si(float(pa), "psi", "pressure") for pa in told.pressure_gauge_pa]
            assert psi[0] == pytest.approx(150.0), "the file's own rider keeps what is fitted"
            assert "82 kg as weighed 150 psi" in part and f"95 kg asked {psi[1]:.0f} psi" in part, part


def test_a_stroke_is_asked_for_in_its_box_and_stands_in_the_frozen_plan(
    technician_in: Client, cast: people.Cast
) -> None:
    job = full_suspension(cast.technician)
    page = technician_in.get(path(job), {**ASKED, "shock_stroke": "52.5"}).content.decode()
    said = plain(page)
    worked = planner.plan(core.bench(job, {"change.shock": {"pressure": "146 psi", "spacers": 2, "stroke": "52.5 mm"}}))
    assert worked.after.rear is not None and worked.after.rear.wheel_travel_m is not None
    assert worked.before.rear is not None and worked.before.rear.wheel_travel_m is not None
    travel = [1e3 * each.rear.wheel_travel_m for each in (worked.before, worked.after)]  # type: ignore[union-attr,operator]
    assert "with two volume spacers and 52.5 mm of stroke by stroke reducers" in said
    assert re.search(r"Set behind Stroke, mm 55 .0 52 .5 −2 .5", said), said[said.index("Set behind") :][:80]
    assert re.search(rf"Rear wheel travel, mm {travel[0]:.1f}".replace(".", " ?."), said) and travel[1] < travel[0]
    assert press(technician_in, job, {**ASKED, "shock_stroke": "52.5"}).status_code == 303
    frozen = FrozenPlan.objects.order_by("-pk")[0]
    assert tomllib.loads(frozen.bench_file)["change"]["shock"]["stroke"] == "52.5 mm"
    assert "52.5 mm of stroke by stroke reducers" in frozen.sentence.replace("\u00a0", " ")
    fault = plain(technician_in.get(path(job), {**ASKED, "shock_stroke": "5"}).content.decode())
    assert 'Shock stroke, "5 mm": a stroke is 20 to 120 mm' in fault
    bare = full_suspension(cast.technician, without=("shock.stroke",))
    assert 'name="shock_stroke"' not in technician_in.get(path(bare)).content.decode()


def test_what_a_plan_moves_at_the_other_end_is_said_wherever_it_could_be_taken_for_done(
    technician_in: Client, cast: people.Cast
) -> None:
    """The steps are those of the job's own unit. Plan, card, steps, hand-over and sheet say what they leave, until it is done."""
    for end, boxes, it, moves in (
        ("fork", {"pressure": "76", "shock_pressure": "140", "shock_spacers": "2"}, "shock", "pressure 150 → 140 psi, volume spacers 1 → 2"),
        ("shock", {**ASKED, "pressure": "76", "spacers": "3"}, "fork", "volume spacers 2 → 3, pressure 80 → 76 psi"),
    ):  # fmt: skip
        job = full_suspension(cast.technician, end)
        if end == "fork":
            job.procedure = "pressure-and-spacers"
            job.save()
        told = f"The plan sets the {it} too: {moves}. No step of this job does it"
        assert told in plain(technician_in.get(path(job), boxes).content.decode()), end
        alone = {name: text for name, text in boxes.items() if name.startswith("shock") == (end == "shock")}
        assert "Not in the steps" not in plain(technician_in.get(path(job), alone).content.decode()), end
        assert press(technician_in, job, boxes).status_code == 303
        where = {
            "card": f"/jobs/{job.number}/", "steps": f"/jobs/{job.number}/steps/all/", "hand-over": f"/jobs/{job.number}/hand-over/",
        }  # fmt: skip
        for name, address in where.items():
            if name == "hand-over":
                assert any(told in plain(each.words) for each in contradictions.faults_of(job)), end
            else:
                assert told in plain(technician_in.get(address).content.decode()), (end, name)
        half = f"This takes the {it} set too: {moves}. We did not set it with this job: ask us before you ride."
        assert half in plain(sheet_of(job)[0].changed), (end, sheet_of(job)[0].changed)
        done = plain(core.done_of(job.frozenplans.get()))
        assert ("Shock" in done) == (end == "shock") and ("Fork" in done or "80 psi" in done) is False, (end, done)
        other = core.other_end(job)
        assert other is not None
        air = other.tables[f"{it}.air"]
        air |= {"pressure": "140 psi", "spacers": 2} if it == "shock" else {"pressure": "5.24 bar", "spacers": 3}
        other.save()  # as another job left it, in another unit
        job.refresh_from_db()
        assert not any(told in plain(each.words) for each in contradictions.faults_of(job)), end
        assert half not in plain(sheet_of(job)[0].changed) and told not in plain(
            technician_in.get(where["card"]).content.decode()
        )


def test_a_stroke_that_no_step_changes_is_said_and_measured(technician_in: Client, cast: people.Cast) -> None:
    """A reducer takes 2.5 mm: nearer than two tape marks, so that the Book took the planned stroke whatever was measured."""
    job = full_suspension(cast.technician)
    job.procedure = "return-to-rider"  # opens nothing
    job.save()
    boxes = {**ASKED, "shock_stroke": "52.5"}
    told = "The plan changes the shock’s stroke: stroke 55 → 52.5 mm. No step of this job does it"
    assert told in plain(technician_in.get(path(job), boxes).content.decode())
    assert press(technician_in, job, boxes).status_code == 303
    assert told in plain(technician_in.get(f"/jobs/{job.number}/steps/all/").content.decode())
    with change(cast.technician, "left", {"for": "test"}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("pressure", units.parse("146 psi", "pressure"), "pressure"))
    frozen, unit = FrozenPlan.objects.get(), job.unit
    assert unit is not None
    planned = {each.label: each.planned for each in contradictions.sides(job)}
    assert plain(planned["Stroke as measured"]).startswith("52.5 mm"), planned
    assert any(
        "Stroke as measured as left is not read; the plan sets" in plain(f.words) for f in contradictions.faults_of(job)
    )
    for measured, agrees in (("55 mm", False), ("52 mm", True)):
        with change(cast.technician, "left", {"for": measured}) as doing:
            readings.take(doing, job, "as-left", Taken.quantity("stroke", units.parse(measured, "length"), "length"))
        left = readings.current(job, "as-left")
        assert any("Stroke as measured: left" in f.words for f in contradictions.faults_of(job)) != agrees, measured
        kept = core_left.left_on_unit(unit, left, frozen)
        assert kept["shock"]["stroke"] == ("52.5 mm" if agrees else "55 mm"), measured


def test_a_hardtail_says_so_once_and_a_shock_that_nobody_knows_is_said(
    technician_in: Client, cast: people.Cast
) -> None:
    """0 mm of rear sag silences the default; beside a shock of unknown rest the front sag says on what it leans."""
    job = hollin_job(cast.technician)
    page = technician_in.get(path(job)).content.decode()
    box = f"/book/bikes/{job.bike_id}/change/?to=/jobs/{job.number}/plan/#id_rear_wheel-sag"
    assert "a rear end that does not sag" in plain(page) and box in page
    assert job.bike is not None
    form = technician_in.get(box.partition("#")[0]).content.decode()
    assert "0 mm on a hardtail" in form and 'id="id_rear_wheel-sag"' in form
    job.bike.tables["rear_wheel"]["sag"] = "0 mm"
    job.bike.save()
    again = technician_in.get(path(job)).content.decode()
    assert "a rear end that does not sag" not in plain(again) and box not in again
    assert plain(page).partition("Set ")[2][:60] == plain(again).partition("Set ")[2][:60], "the answer is the same"
    known = full_suspension(cast.technician, "fork")
    assert "a rear end that does not sag" not in plain(technician_in.get(path(known)).content.decode())
    job = full_suspension(cast.technician, "fork", without=("shock.air.positive_volume", "shock.air.bore"))
    said = plain(technician_in.get(path(job)).content.decode())
    with_it = plan_of(core.bench(job)), plan_of(replace(core.bench(job), rear_wheel=Wheel(radius_m=0.371, sag_m=0.045)))
    fronts = [1e3 * each.after.sag.front.travel_m for each in with_it]  # type: ignore[union-attr]
    assert 0.5 < fronts[0] - fronts[1] < 1.5 and "a rear end that does not sag (with 45 mm: sag 1 mm less" in said
    assert "No rear suspension?" not in said


def test_parts_for_the_shock_lie_on_the_plan_page_with_their_buttons(technician_in: Client, cast: people.Cast) -> None:
    """Only a fork's parts had any. A coil sets its rate and where its coils touch, a reducer the stroke, a spacer one more."""
    for measured, kind, marking in (
        ({"rate": "450 lbf/in", "bind": "63 mm"}, "coil", "bound"), ({"rate": "90 N/mm"}, "coil", "unbound"),
        ({"reduces": "2.5 mm"}, "stroke reducer", "two and a half"), ({"reduces": "40 mm"}, "stroke reducer", "too much"),
        ({"volume": "6 ml"}, "volume spacer", "six"), ({"volume": "8.5 ml"}, "volume spacer", "eight"),
    ):  # fmt: skip
        with change(cast.technician, f"shelf {marking}", {"made": "for a test"}) as doing:
            shelf.make_part(doing, kind=kind, measured=measured, marking=marking)
    for end, coil in (("shock", False), ("shock", True), ("fork", False)):
        job = full_suspension(cast.technician, end, shock_coil=COIL) if coil else full_suspension(cast.technician, end)
        page = technician_in.get(path(job)).content.decode()
        sets = {unescape(each) for each in re.findall(r'name="fit" value="([^"]*)"', page)}
        behind = (
            {"shock_rate=450 lbf/in;shock_bind=62 mm", "shock_rate=90 N/mm;shock_bind="}
            if coil
            else {"shock_spacers=+1"}
        )
        assert sets == behind | {"shock_stroke=52.5 mm", "spacers=+1"}, (end, coil, sets)
        assert "One more in the fork" in page and ("One more in the shock" in page) != coil, (end, coil)
        if coil:  # wound up 1 mm: it touches so much sooner; one of which nobody measured it takes the other's away
            first = technician_in.get(path(job), {"shock_rate": "70", "fit": "shock_rate=450 lbf/in;shock_bind=62 mm"})
            file = core.bench(job, {"change.shock": {"rate": "450 lbf/in", "bind": "62 mm"}})
            told = f"{planner.plan(file).after.rear.end_force_n:.0f}"  # type: ignore[union-attr]
            assert f"{round(float(told), -1):.0f}" in plain(first.content.decode()).replace(" ", ""), told
            page = technician_in.get(
                path(job), {"shock_bind": "62 mm", "fit": "shock_rate=90 N/mm;shock_bind="}
            ).content.decode()
            assert re.search(r'name="shock_rate"[^>]*value="90', page) and not re.search(
                r'name="shock_bind"[^>]*value="6', page
            )
        else:
            page = technician_in.get(path(job), {"shock_spacers": "1", "fit": "shock_spacers=+1"}).content.decode()
            assert re.search(r'name="shock_spacers"[^>]*value="2"', page)
            page = technician_in.get(path(job), {"fit": "shock_stroke=52.5 mm"}).content.decode()
            assert re.search(r'name="shock_stroke"[^>]*value="52.5', page)
    for bad in ("shock_pressure=300 psi", "shock_rate=90 N/mm;shock_pressure=300 psi", "shock_rate", ";", "="):
        page = technician_in.get(path(job), {"shock_pressure": "146", "fit": bad}).content.decode()
        assert re.search(r'name="shock_pressure"[^>]*value="146', page), bad


def test_what_a_search_or_a_question_lacks_is_said_in_the_pages_words(technician_in: Client, cast: people.Cast) -> None:
    """It said "missing; as in pressure = …", the words of a bench file."""
    job = full_suspension(cast.technician, without=("shock.air.bore", "shock.air.positive_volume", "shock.leverage"))
    for where in ("options", "questions"):
        said = plain(technician_in.get(f"/jobs/{job.number}/{where}/?end=rear").content.decode())
        assert "Not known, and needed for this: " in said and "the bore of the shock’s air can" in said, (where, said)
        assert "the frame’s leverage ratios" in said and "as in" not in said and "[shock" not in said, (where, said)
    said = plain(technician_in.get(f"/jobs/{full_suspension(cast.technician).number}/options/").content.decode())
    assert (
        "written below" not in said
        and "wanted below" not in said
        and "open “Near to what is wanted, not to now”" in said
    )


def test_the_sheet_of_a_shock_without_a_plan_says_its_sag_of_the_stroke(cast: people.Cast) -> None:
    job = full_suspension(cast.technician, without=("shock.leverage",))
    with change(cast.technician, "left", {}) as doing:
        readings.take(doing, job, "as-left", Taken.quantity("stroke-sag", units.parse("17 mm", "length"), "length"))
    sag = next(each for each in sheet_of(job)[0].large if each.name.startswith("Sag"))
    assert "of the stroke" in sag.note and "of the travel" not in sag.note
