"""The plan page without a browser: its answer, bad input, both ways of asking, and putting a plan to use."""

from __future__ import annotations

import json
import re
from html import unescape
from typing import Any
from urllib.parse import urlencode

import pytest
from django.http import HttpResponse
from django.test import Client

import topout
from topout.bench_file.read import read
from topout.planner.plan import plan
from topout.planner.summary import of_results
from topout.web.access.change import change
from topout.web.access.models import Change
from topout.web.jobs import core
from topout.web.jobs.plan import boxes as plan_boxes
from topout.web.jobs.records.models import FrozenPlan, Job, Release
from web import people
from web.plan_cast import ASKED, HOLLIN, hollin_job

NBSP = "\u00a0"


@pytest.fixture
def job(cast: people.Cast) -> Job:
    return hollin_job(cast.owner)


def path(job: Job) -> str:
    return f"/jobs/{job.number}/plan/"


def text_of(answer: HttpResponse) -> str:
    """The words of a page, tags taken out, blanks run together."""
    body = re.sub(r"<(title|desc)[^>]*>.*?</\1>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"[ \n]+", " ", unescape(re.sub(r"</?(b|i|span|tspan)\b[^>]*>", "", body)).replace(NBSP, " ")).strip()


def words_of(answer: HttpResponse) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", text_of(answer)))


def text_in(sentence: str) -> str:
    """A sentence as `words_of` has it, what was typed in it too."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", sentence.replace(NBSP, " "))).strip()


def move(client: Client, job: Job, **boxes: str) -> HttpResponse:
    """What the script asks for: all boxes, at a width."""
    answer = client.get(path(job), {**ASKED, "width": "738", **boxes}, headers={"HX-Request": "true"})
    return answer  # type: ignore[return-value]


def beside(answer: HttpResponse) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(answer.headers["HX-Trigger"])["topout:boxes"]
    return found


def test_the_mockups_figures(technician_in: Client, job: Job) -> None:
    """Every figure of mockups/plan.html, from the bench file through records, core and page."""
    words = words_of(technician_in.get(path(job), ASKED))  # type: ignore[arg-type]
    for expected in (
        "140 → 150 mm",
        "Set 70 psi · 4.83 bar with one volume spacer. Sag 32.5 mm, 1.5 mm more than now; bottom-out force 3 % higher; "
        "at sag the head angle 0.6° slacker.",
        "5.4 mm left between tyre and crown under 2\u202f800 N",
        "the port opens 3 mm short of it",
        "same sag, 31.0 mm 73 5.06 31.0 2\u202f060 Set 73",
        "same sag in %, 22.1 % 68 4.71 33.2 1\u202f990 Set 68",
        "same bottom-out force, 1\u202f950 N 66 4.56 34.3 1\u202f950 Set 66",
        "same feel 76 5.25 29.9 2\u202f100 Set 76",
        "Travel, mm 140 150 +10", "Volume spacers, 8.5 ml each 2 1 −1", "Pressure, psi 72 70 −2", "Pressure, bar 4.96 4.83 −0.13",
        "Sag, mm 31.0 32.5 +1.5", "Sag, share of travel, %; difference in points 22.1 21.6 −0.5", "Sag at the least, mm 29.2 30.6 +1.4", "Sag at the most, mm 32.8 34.4 +1.6",
        "Bottom-out force, N 1\u202f950 2\u202f010 +60", "Bottom-out force, fast, N 2\u202f440 2\u202f540 +100",
        "Energy to the end, J 89 97 +8", "Compression ratio 2.50 2.62 +0.12",
        "Fork length, mm; limit 550 mm 536 546 +10", "Tyre to crown, bottomed, mm 12.4 8.4 −4.0", "Tyre to crown under 2\u202f800 N, mm 9.4 5.4 −4.0",
        "Head angle, ° 66.2 65.6 −0.6 67.6 67.0 −0.6", "Seat angle, ° 76.4 75.8 −0.6 77.8 77.2 −0.6",
        "Trail, mm 115 121 +6 105 111 +6", "Wheel flop, mm 42 46 +4 37 40 +3", "Bottom bracket height, mm 336 341 +5 326 330 +4",
        "Reach, mm 452 445 −7 467 461 −6", "Stack, mm 622 627 +5 611 616 +5", "Wheelbase, mm 1\u202f193 1\u202f197 +4 1\u202f180 1\u202f184 +4",
        "Front centre, mm 761 764 +3 750 753 +3",
        "The load comes from the sag found: 31 mm at 72 psi. It puts 39 % of rider and bike on the front wheel.",
        "A · bottom bracket 4.3 mm higher", "B · top of the head tube 9.0 mm higher, 5.7 back",
    ):  # fmt: skip
        assert expected.replace("\u202f", " ") in words, expected


def test_a_bike_as_it_came_asks_for_nothing(technician_in: Client, job: Job) -> None:
    words = words_of(technician_in.get(path(job)))  # type: ignore[arg-type]
    assert "140 mm, as now" in words
    assert "Sag 31.0 mm, as now; bottom-out force as now; at sag the head angle as now." in words


@pytest.mark.parametrize(
    ("boxes", "expected"),
    [
        ({"pressure": "4.83 bar"}, "Set 70.1 psi · 4.83 bar"),
        ({"travel": "5.9 in"}, "140 → 149.9 mm"),
        ({"spacers": "0"}, "with no volume spacer"),
        ({"bead": "584", "tyre": "70"}, "Sag 32.5 mm"),
        ({"by": "piston-spacer", "solid": "9 ml"}, "Set 70 psi"),
        ({"rear_tyre": "52"}, "at sag the head angle"),
    ],
)
def test_moves(technician_in: Client, job: Job, boxes: dict[str, str], expected: str) -> None:
    answer = move(technician_in, job, **boxes)
    assert answer.status_code == 200
    assert expected in words_of(answer) + beside(answer)["heading"].replace(NBSP, " ")
    assert not beside(answer)["faults"]["travel"]


def test_a_move_is_drawn_once_at_the_width_of_the_page(technician_in: Client, job: Job) -> None:
    part = move(technician_in, job, width="600").content.decode()
    assert part.count('viewBox="0 0 600 ') == 4  # force, difference, pressures, stance
    assert "<html" not in part
    whole = technician_in.get(path(job), ASKED).content.decode()
    for size in (738, 358, 288):
        assert whole.count(f'viewBox="0 0 {size} ') == 4
    ids = re.findall(r'\sid="([^"]+)"', whole)
    assert len(ids) == len(set(ids))


def test_a_move_gets_the_parts_it_asks_for_and_they_are_the_same(technician_in: Client, job: Job) -> None:
    """The script asks for what the screen shows, then for the rest; without a word about parts all come."""

    def parts(answer: HttpResponse) -> dict[str, str]:
        pieces = re.split(r'^<div data-into="([^"]+)">', answer.content.decode(), flags=re.M)[1:]
        return {name: text.strip() for name, text in zip(pieces[::2], pieces[1::2], strict=True)}

    whole = parts(move(technician_in, job))
    names = ["part-force", "part-keeps", "part-stance", "part-table"]
    assert [name for name in whole if name.startswith("part-")] == names
    assert all(len(text) > 2000 for name, text in whole.items() if name in names)
    for asked in ("", "force", "table stance", "keeps", "none force"):
        some = parts(move(technician_in, job, parts=asked))
        assert [name for name in some if name.startswith("part-")] == [n for n in names if n[5:] in asked.split()]
        assert some == {name: whole[name] for name in some} and {"answer", "faults-place", "warnings"} <= set(some)


def test_the_address_says_the_same_again(technician_in: Client, job: Job) -> None:
    answer = move(technician_in, job, pressure="67")
    again = technician_in.get(beside(answer)["address"])
    assert "Set 67 psi" in words_of(again)  # type: ignore[arg-type]
    assert 'value="67"' in again.content.decode()


def test_warnings_that_stand_already_are_not_sent_again(technician_in: Client, job: Job) -> None:
    """So that a screen reader hears them once."""
    first = move(technician_in, job)
    assert 'data-into="warnings"' in first.content.decode()
    again = move(technician_in, job, said=beside(first)["hidden"]["said"], spacers="2")
    assert 'data-into="warnings"' not in again.content.decode()
    other = move(technician_in, job, said=beside(first)["hidden"]["said"], tyre="66")
    assert 'data-into="warnings"' in other.content.decode()


BAD = {
    "missing": "", "wrong unit": "70 kg", "text": "soft", "nan": "NaN", "huge": "9" * 12, "negative": "-4",
    "comma": "1,705", "endless": "1e999", "long": "7" * 5000, "nul": "70\x00", "mark-up": "<b>70</b>",
}  # fmt: skip


BOXES = ("travel", "pressure", "spacers", "offset", "bead", "tyre", "rear_bead", "rear_tyre", "by", "solid")


def test_bad_input_keeps_what_was_typed_and_the_last_answer(technician_in: Client, job: Job) -> None:
    """Every box × every kind: a sentence at the box, the same in the summary, the last good answer called that.

    A page has another kind in each box, all at once; that each alone is enough is asked of the boxes themselves.
    """
    fitted, usual = core.tables(job, {}), {**ASKED, "by": "piston-spacer", "solid": "9 ml"}
    for shift in range(len(BAD)):
        kinds = {box: list(BAD)[(n + shift) % len(BAD)] for n, box in enumerate(BOXES)}
        boxes = {box: BAD[how] for box, how in kinds.items()}
        answer = move(technician_in, job, answered=urlencode(ASKED), parts="", **boxes)
        assert answer.status_code == 200
        words, told = words_of(answer), beside(answer)
        assert "This needs mending" in words and "the last answer that could be worked out" in words
        assert "Set 70 psi" in words  # the answer to what stood there before
        assert told["title"].startswith("Error: ")
        whole = technician_in.get(path(job), {**ASKED, **boxes})
        assert whole.status_code == 200
        body = whole.content.decode()
        assert "Error: Plan" in body
        for box, how in kinds.items():
            alone = plan_boxes.draw(fitted, {}, plan_boxes.sent_boxes({**usual, box: BAD[how]}))
            if (box, how) in ALLOWED:
                assert box not in dict(alone.faults) and not told["faults"][box], (box, how)
            else:
                assert alone.file is None and [name for name, _ in alone.faults] == [box], (box, how, alone.faults)
                fault = told["faults"][box]
                assert fault and text_in(fault) in words, (box, how, fault)
                for never in ("invalid", "please", "oops", "illegal", "required", "traceback"):
                    assert never not in fault.lower(), fault
            if box not in ("bead", "rear_bead", "by"):
                kept = re.search(rf'<input id="{box}" name="{box}" value="([^"]*)"', body)
                assert kept and unescape(kept.group(1)) == BAD[how][:200], (box, how)


# Left out means "not asked" for boxes that stand for nothing fitted; an axle behind the steering axis is odd, not wrong.
ALLOWED = {("solid", "missing"), ("by", "missing"), ("offset", "negative")}


def test_two_faults_are_shown_at_once(technician_in: Client, job: Job) -> None:
    faults = beside(move(technician_in, job, travel="500", pressure="7o"))["faults"]
    assert "20 to 300 mm" in faults["travel"] or "20" in faults["travel"]
    assert faults["pressure"]


def test_a_fault_of_the_book_is_named_and_nothing_is_made_up(technician_in: Client, cast: people.Cast) -> None:
    """A bike whose sag found lies past its travel: nothing can be worked out, and the page says why."""
    job = hollin_job(cast.owner, fork={"travel": "30 mm"}, fork_air={"port_position": "0 mm"})
    answer = technician_in.get(path(job))
    assert answer.status_code == 200
    words = words_of(answer)  # type: ignore[arg-type]
    assert "This needs mending" in words and "that is more than the travel" in words and "Set 72 psi" not in words


def test_what_is_not_known_is_left_out_and_said(technician_in: Client, cast: people.Cast) -> None:
    job = hollin_job(cast.owner)
    job.rider.tables, job.bike.tables = {}, {}  # type: ignore[union-attr]
    job.rider.save()
    job.bike.save()  # type: ignore[union-attr]
    words = words_of(technician_in.get(path(job)))  # type: ignore[arg-type]
    assert (
        "Not known: the frame’s chart, the rider’s weight, the bike’s weight. What follows from it is left out."
        in words
        or ("Not known: the frame’s chart" in words)
    )
    assert "[" not in words[words.index("Not known") :][:400], "no key of a file on a screen"
    assert "Stance" not in words and "Bottom-out force" in words


def test_what_is_not_known_leads_to_its_box_and_nothing_is_set(technician_in: Client, cast: people.Cast) -> None:
    """The page said "Set 70 psi", its own box echoed, where no spring could be computed."""
    job = hollin_job(cast.owner)
    assert job.unit is not None
    del job.unit.tables["fork.air"]["positive_volume"]
    job.unit.save()
    page = move(technician_in, job).content.decode()
    words = words_of(technician_in.get(path(job), ASKED))  # type: ignore[arg-type]
    assert (
        f'<a href="/book/units/{job.unit.pk}/change/?to=/jobs/{job.number}/plan/#id_fork-air-positive_volume">the volume of the air chamber</a>'
        in page
    )
    assert (
        'id="id_fork-air-positive_volume"' in technician_in.get(f"/book/units/{job.unit.pk}/change/").content.decode()
    )
    assert "Nothing is set: the spring can’t be worked out without the volume of the air chamber." in words
    assert "Set 70" not in words and "positive_volume" not in words


def test_a_second_valve_has_its_own_box(technician_in: Client, cast: people.Cast) -> None:
    job = hollin_job(cast.owner, fork_air={"negative": "separate-valve", "negative_pressure": "80 psi"})
    words = words_of(move(technician_in, job, negative="76"))
    assert "Set 70 psi · 4.83 bar main and 76 psi · 5.24 bar negative with one volume spacer." in words


@pytest.fixture
def roomy(cast: people.Cast) -> Job:
    """The same without overtravel, so that nothing speaks against the plan asked for (tests/web/test_use_plan.py has those)."""
    return hollin_job(cast.owner, fork={"overtravel": "0 mm"})


def use(client: Client, job: Job, boxes: dict[str, str], answered: str | None = None) -> Any:
    """Load the page with some boxes and press "Use this plan"; `answered` stands in for what the page answered."""
    page = client.get(path(job), boxes)
    sent = {
        **boxes,
        "csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken", -1),
        "change_key": people.field_of(page, "change_key", -1),
        "answered": unescape(people.field_of(page, "answered")) if answered is None else answered,
    }
    return client.post(path(job), sent)


def test_use_this_plan_freezes_file_results_and_version(technician_in: Client, roomy: Job, cast: people.Cast) -> None:
    answer = use(technician_in, roomy, ASKED)
    assert answer.status_code == 303 and answer.headers["Location"] == f"/jobs/{roomy.number}/"
    frozen = FrozenPlan.objects.get()
    assert frozen.who == cast.technician and frozen.version == topout.__version__
    assert frozen.sentence == "Set 70 psi · 4.83 bar with one volume spacer.".replace(" psi", f"{NBSP}psi").replace(
        " bar", f"{NBSP}bar"
    )
    assert "The plan is in use. Set 70 psi" in words_of(technician_in.get(answer.headers["Location"]))  # type: ignore[arg-type]
    assert core.recompute(frozen).holds
    expected = plan(read(HOLLIN)).as_json()
    assert frozen.results["after"]["sag"]["front"]["travel_m"] == pytest.approx(
        expected["after"]["sag"]["front"]["travel_m"], rel=1e-9
    )
    assert frozen.results["keep"]["curve"]["pressure_pa"] == pytest.approx(
        expected["keep"]["curve"]["pressure_pa"], rel=1e-9
    )
    page = words_of(technician_in.get(path(roomy)))  # type: ignore[arg-type]
    assert "plan in use since" in page and "Jory Pask" in page and "140 → 150 mm" in page


def test_sent_three_times_it_is_used_once(technician_in: Client, roomy: Job) -> None:
    page = technician_in.get(path(roomy), ASKED)
    sent = {
        **ASKED, "csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken", -1),  # type: ignore[arg-type]
        "change_key": people.field_of(page, "change_key", -1), "answered": unescape(people.field_of(page, "answered")),  # type: ignore[arg-type]
    }  # fmt: skip
    answers = [technician_in.post(path(roomy), sent) for _ in range(3)]
    assert {a.status_code for a in answers} == {303}
    assert FrozenPlan.objects.count() == 1


def test_a_plan_whose_answer_nobody_saw_is_not_used(technician_in: Client, job: Job) -> None:
    """Without the script one can type and press at once: the page shows that answer first."""
    before = Change.objects.count()
    seen = "&".join(f"{name}={value}" for name, value in ASKED.items())
    answer = use(technician_in, job, {**ASKED, "pressure": "90"}, answered=seen)
    assert answer.status_code == 422
    words = words_of(answer)
    assert "The boxes were changed after this answer was worked out." in words and "Set 90 psi" in words
    assert not FrozenPlan.objects.exists() and Change.objects.count() == before


def test_a_plan_at_fault_is_not_used(technician_in: Client, job: Job) -> None:
    answer = use(technician_in, job, {**ASKED, "pressure": "7,050"})
    assert answer.status_code == 422 and 'value="7,050"' in answer.content.decode()
    assert "write a decimal point" in words_of(answer)
    assert not FrozenPlan.objects.exists()


def test_a_plan_that_would_lock_is_not_told_to_be_set_nor_used(technician_in: Client, cast: people.Cast) -> None:
    """Fifteen spacers fill the chamber before the end of the travel."""
    job = hollin_job(cast.owner, fork_air={"spacer_limit": 20})
    boxes = {**ASKED, "spacers": "15"}
    words = words_of(technician_in.get(path(job), boxes))  # type: ignore[arg-type]
    assert "Don’t build this." in words and "Set 70 psi" not in words and "No room left." in words
    answer = use(technician_in, job, boxes)
    assert answer.status_code == 422 and "This would lock" in words_of(answer) and not FrozenPlan.objects.exists()


def test_a_job_that_is_handed_over_keeps_its_plan(technician_in: Client, job: Job, cast: people.Cast) -> None:
    from topout.web.access.change import change

    with change(cast.owner, "release", {}) as doing:
        Release.objects.create(
            job=job,
            sequence=99,
            who=cast.owner,
            at=doing.at,
            found="x",
            done="x",
            left="x",
            next_service="x",
            fit_to_ride=True,
        )
    assert "Use this plan" not in technician_in.get(path(job), ASKED).content.decode()
    assert use(technician_in, job, ASKED).status_code == 403 and not FrozenPlan.objects.exists()


def test_a_stranger_sees_nothing_and_sets_nothing(stranger: Client, job: Job) -> None:
    assert stranger.get(path(job)).status_code == 302
    assert stranger.post(path(job), ASKED).status_code in (302, 403)
    assert not FrozenPlan.objects.exists()


def test_no_such_job(technician_in: Client, workshop: object) -> None:
    assert technician_in.get("/jobs/999/plan/").status_code == 404
    assert technician_in.get("/jobs/99999999999999999999999/plan/").status_code == 404


def test_the_page_holds_to_the_content_policy(technician_in: Client, job: Job) -> None:
    body = technician_in.get(path(job), ASKED).content.decode()
    assert " style=" not in body and "<style" not in body and not re.search(r"\son[a-z]+=", body)
    assert not re.search(r"<script(?![^>]*src=)", body)
    assert 'type="number"' not in body
    assert len(re.findall(r'class="go"', body)) == 1


def test_what_is_taken_for_granted_stands_on_the_page_and_on_the_card_once(
    technician_in: Client, cast: people.Cast
) -> None:
    """A rear end without sag is worth two degrees of head angle, and nothing said so."""
    job = hollin_job(cast.owner)
    assert job.unit is not None
    job.unit.tables["fork.air"].pop("port_position")
    job.unit.save()
    said = "a rear end that does not sag (with 45\N{NO-BREAK SPACE}mm: "
    page = technician_in.get(f"/jobs/{job.number}/plan/").content.decode()
    assert page.count(said) == 1 and page.index("<b>Taken for granted.</b>") < page.index(said)
    with change(cast.owner, "use", {}) as doing:
        frozen = core.freeze(doing, job, {"change": {"travel": "150 mm", "pressure": "70 psi", "spacers": 1}})
    assert core.recompute(frozen).holds
    assert technician_in.get(f"/jobs/{job.number}/").content.decode().count(said) == 1
    results = {key: value for key, value in frozen.results.items() if key != "defaults"}
    assert of_results(core.frozen_bench(frozen), results).defaults == (), "an older plan says none"


def test_what_is_written_in_the_book_from_a_plan_leads_back_to_it(technician_in: Client, cast: people.Cast) -> None:
    """Saved from the plan's link, one stood on the unit's page; an address elsewhere is nobody's way back."""
    job = hollin_job(cast.owner)
    assert job.unit is not None and job.bike is not None
    plan = path(job)
    for row, place in ((job.unit, "units"), (job.bike, "bikes"), (job.rider, "riders")):
        address = f"/book/{place}/{row.pk}/change/?to={plan}"
        page = technician_in.get(address).content.decode()
        assert f'<a href="{plan}">Back</a>' in page, place
        boxes = re.findall(r'<(?:input|textarea)[^>]*name="([^"]+)"[^>]*value="([^"]*)"', page)
        sent = {name: unescape(value) for name, value in boxes if name not in ("csrfmiddlewaretoken", "change_key")}
        wanted = people.send(technician_in, address, {"name": str(row), **sent}, address)
        assert (wanted.status_code, wanted.headers["Location"]) == (303, plan), place
    for elsewhere in ("//evil.example/", "https://evil.example/", "jobs", "javascript:alert(1)", "/\\\\evil.example"):
        address = f"/book/units/{job.unit.pk}/change/?{urlencode({'to': elsewhere})}"
        assert f'<a href="/book/units/{job.unit.pk}/">Back</a>' in technician_in.get(address).content.decode(), (
            elsewhere
        )
