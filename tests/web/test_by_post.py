"""A unit that comes by post without its bike, and of which little is known: its plan opens, and asks for nothing that was read."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.test import Client

from topout import units
from topout.bench_file.read import read_text
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.tables import Tables
from topout.web.jobs import core
from topout.web.jobs.plan import boxes as plan_boxes
from topout.web.jobs.records import changes, readings
from topout.web.jobs.records.models import Instrument, Job
from topout.web.jobs.records.readings import Taken
from topout.web.jobs.release.sheet import sheet_of
from web import people
from web.plan_cast import HOLLIN
from web.steps_kit import Hands
from web.test_plan_page import words_of


def posted(who: User, kind: str, tables: Tables, pressure: str = "", spacers: int | None = None) -> Job:
    """A job on a unit without a bike, with what was read of it."""
    with change(who, f"post {kind}", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Hanne Oker")
        unit = book.make_unit(doing, bike=None, name="posted", tables=tables, kind=kind)
        job = changes.take_in(doing, rider=rider, bike=None, unit=unit, asked_title="longer travel", asked="please")
        if pressure:
            typed = Taken.quantity("pressure", units.parse(pressure, "pressure"), "pressure")
            readings.take(doing, job, "as-found", typed)
        if spacers is not None:
            readings.take(doing, job, "as-found", Taken.count("spacers", spacers))
    return job


def moved(client: Client, job: Job, **boxes: str) -> str:
    """What a move of the plan page says: told from fewer draws than a page that is loaded."""
    answer = client.get(f"/jobs/{job.number}/plan/", {"width": "738", **boxes}, headers={"HX-Request": "true"})
    return words_of(answer)  # type: ignore[arg-type]


def test_a_plan_that_can_t_begin_says_what_to_write_and_where(technician_in: Client, cast: people.Cast) -> None:
    for kind, box, says in (
        ("fork", "fork-travel", "before the fork’s travel is known"),
        ("coil-fork", "fork-travel", "before the fork’s travel is known"),
        ("shock", "shock-air-bore", "Nothing of this shock’s spring is in the Book yet"),
        ("coil-shock", "shock-coil-rate", "Nothing of this shock’s spring is in the Book yet"),
    ):
        job = posted(cast.technician, kind, {}, "70 psi" if kind == "fork" else "")
        for page in ("plan", "questions", "options"):
            answer = technician_in.get(f"/jobs/{job.number}/{page}/")
            text = answer.content.decode()
            assert answer.status_code == 200 and says in text, (kind, page, text[-2000:])
            assert (
                f'href="/book/units/{job.unit_id}/change/?to=/jobs/{job.number}/plan/#id_{box}">Write it in the Book'
                in text
            ), (kind, page)
            assert "This needs mending" not in text, "nobody has typed anything wrong yet"


def test_what_was_read_is_not_asked_again(technician_in: Client, cast: people.Cast) -> None:
    """The Book holds the fork's outside and no line of its air spring: pressure and spacers were read."""
    job = posted(cast.technician, "fork", {"fork": {"travel": "140 mm", "stanchion": "36 mm"}}, "70 psi", 1)
    words = moved(technician_in, job, travel="140")
    assert "This needs mending" not in words and "Leave it at 70 psi" in words and "with one volume spacer" in words, (
        words
    )
    can = posted(cast.technician, "shock", {"shock": {"stroke": "55 mm", "body": "52 mm"}}, "170 psi", 0)
    words = moved(technician_in, can, shock_stroke="55")
    assert "Shock: leave it at 170 psi" in words and "How firm the end of the shock is: not known yet." in words, words
    for kind, air in (
        ("fork", "fork.air"),
        ("shock", "shock.air"),
    ):  # the Book knows the last job's pressure and nothing else
        left = core.tables(posted(cast.technician, kind, {air: {"pressure": "182 psi"}}, "184 psi", 1), {})
        assert left[air] == {"pressure": "184 psi", "spacers": 1}, "the plan starts from what this job read"
    first = [box.name for box in plan_boxes.draw(core.tables(can, {}), {}).first]
    assert first.index("shock_pressure") < first.index("bead"), "the shock's own boxes come first"


def test_a_keep_of_what_nobody_knows_is_not_said_to_be_out_of_reach(technician_in: Client, cast: people.Cast) -> None:
    """Without a bike no sag is known: no pressure was looked for that keeps it."""
    job = posted(cast.technician, "fork", book.take_apart(HOLLIN.read_bytes())[2]["fork"], "70 psi", 2)
    words = moved(technician_in, job, travel="140")
    assert "same sag in % Not known yet." in words and "same sag Not known yet." in words, words
    assert "same bottom-out force, " in words and "No pressure does." not in words, words


def test_one_pressure_is_one_figure_in_the_other_system_all_over_the_page(
    technician_in: Client, cast: people.Cast
) -> None:
    """Beside the box and in the table stood 12.55 bar, under what the plan rests on 12.5."""
    job = posted(cast.technician, "shock", {"shock.air": {"pressure": "180 psi"}}, "182 psi")
    words = words_of(technician_in.get(f"/jobs/{job.number}/plan/"))  # type: ignore[arg-type]
    assert "Shock pressure, psi 12.5 bar" in words and "Pressure, bar 12.5 12.5 0.0" in words, words
    assert "pressure 182 psi · 12.5 bar" in words and "12.55" not in words


def test_a_sag_of_an_unknown_stroke_has_no_share(technician_in: Client, cast: people.Cast) -> None:
    """It said “14.0 mm of the shock’s stroke (– of the stroke)”."""
    job = posted(cast.technician, "shock", {"shock.air": {"pressure": "182 psi"}}, "184 psi")
    with change(cast.technician, "sag", {"for": "test"}) as doing:
        typed = Taken.quantity("stroke-sag", units.parse("14 mm", "length"), "length", posture="seated")
        readings.take(doing, job, "as-found", typed)
    assert "Sag behind 14.0 mm of the shock’s stroke, as now." in moved(technician_in, job)


def test_a_rear_sag_written_twice_is_said_once_everywhere(technician_in: Client, cast: people.Cast) -> None:
    """At the bike as wheel travel, at its shock as stroke: the shock's counts. The telephone's page showed the file's keys."""
    with change(cast.technician, "two sags", {"made": "for a test"}) as doing:
        rider = book.make_rider(doing, name="Hanne Oker", tables={"rider": {"mass": "70 kg"}})
        bike = book.make_bike(doing, rider=rider, name="enduro", tables={"rear_wheel": {"sag": "40 mm"}})
        tables: Tables = {
            "shock": {"stroke": "55 mm", "body": "52 mm", "sag": "15 mm"},
            "shock.air": {"pressure": "150 psi"},
        }
        unit = book.make_unit(doing, bike=bike, name="can", tables=tables, kind="shock")
    words = words_of(technician_in.get(f"/riders/{rider.pk}/set-up/"))  # type: ignore[arg-type]
    assert "stands too" not in words and "[shock]" not in words, words
    file = technician_in.get(f"/book/units/{unit.pk}/bench-file.toml").content.decode()
    assert read_text(file).shock is not None, "a file that the program gives can be read back"


def test_the_rider_s_page_shows_a_unit_that_came_alone_and_the_unit_s_whose_it_is(
    technician_in: Client, cast: people.Cast
) -> None:
    job = posted(cast.technician, "fork", {})
    assert (
        f'<a href="/book/units/{job.unit_id}/">posted</a>'
        in technician_in.get(f"/book/riders/{job.rider_id}/").content.decode().split('id="alone"')[1]
    )
    text = technician_in.get(f"/book/units/{job.unit_id}/").content.decode()
    assert f'without a bike, from <a href="/book/riders/{job.rider_id}/">Hanne Oker</a>' in text


def test_the_sheet_warns_of_what_the_unit_has(cast: people.Cast) -> None:
    """A coil's sheet said to let the air out; a shock's bolts stood on none."""
    for kind in ("fork", "coil-fork", "shock", "coil-shock"):
        said = " ".join(sheet_of(posted(cast.technician, kind, {}))[0].before_ride)
        assert ("Let the air out" in said) is not kind.startswith("coil"), (kind, said)
        assert ("the shock’s bolts" in said) is kind.endswith(
            "shock"
        ) and "instructions come before this sheet" in said, said


def test_as_found_asks_for_what_this_unit_and_this_workshop_have(technician_in: Client, cast: people.Cast) -> None:
    """A coil's first group was called Pressure, and a tape was asked for where none is on the list."""
    for kind in ("fork", "coil-fork", "shock", "coil-shock"):
        job = posted(cast.technician, kind, {})
        text = technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode()
        title = "Temperature" if kind.startswith("coil") else "Pressure"
        assert f'<h2 id="group1">{title}</h2>' in text, kind
        assert "taken with" not in text, kind
    Instrument.objects.create(code="M1", kind="tape", name="tape", dimension="length", mark="1 mm")
    assert "Lengths taken with" in technician_in.get(f"/jobs/{job.number}/readings/as-found/").content.decode()


def test_what_can_t_be_is_said_without_a_line_of_a_file(technician_in: Client, cast: people.Cast) -> None:
    """A travel read as nothing: the page of the reading far in gave the line and the key of a file that nobody wrote."""
    job = posted(cast.technician, "fork", {"fork": {"travel": "140 mm", "stanchion": "36 mm"}}, "70 psi")
    with change(cast.technician, "travel", {"made": "for a test"}) as doing:
        typed = Taken.quantity("travel", units.parse("5 mm", "length"), "length")
        readings.take(doing, job, "as-found", typed)
    for page in ("plan", "plan/far-in", "questions", "options"):
        words = words_of(technician_in.get(f"/jobs/{job.number}/{page}/"))  # type: ignore[arg-type]
        assert "ravel" in words and "travel is 20 to 300" in words, (page, words)
        assert "line " not in words and "[fork]" not in words and "('" not in words, (page, words)


def test_of_a_spring_nobody_described_no_pressure_can_be_set(technician_in: Client, cast: people.Cast) -> None:
    job = posted(cast.technician, "fork", {"fork": {"travel": "140 mm"}})
    answer = technician_in.get(f"/jobs/{job.number}/plan/")
    words = words_of(answer)  # type: ignore[arg-type]
    assert "This needs mending" not in words and "No spring is described; nothing is set." in words
    assert "Fork length, wheels " in words and "the new air-spring part" not in words, "no box for it stands there"
    assert 'name="pressure"' not in answer.content.decode(), "what is typed there would be dropped without a word"


def test_a_unit_that_came_alone_is_handed_over_without_a_word_of_its_bike(
    technician_in: Client, cast: people.Cast
) -> None:
    """“The bike is: fit to ride” was asked of a bike that the workshop never saw."""
    for kind, noun in (("fork", "fork"), ("coil-shock", "shock")):
        job = posted(cast.technician, kind, {})
        page = technician_in.get(f"/jobs/{job.number}/hand-over/").content.decode()
        assert f"The {noun} is" in page and f"only where the {noun} is not fit to ride" in page, kind
        assert "The bike is" not in page and "the bike is not fit" not in page, kind
        refused = people.send(technician_in, f"/jobs/{job.number}/hand-over/", {"found": "as sent"})
        assert f"Say whether the {noun} is fit to ride." in refused.content.decode()


def test_a_unit_that_came_alone_has_no_step_at_the_bike_before_the_first_is_signed_and_after(cast: people.Cast) -> None:
    job = posted(cast.technician, "fork", {"fork": {"travel": "140 mm"}}, "70 psi")
    Job.objects.filter(pk=job.pk).update(procedure="lower-leg-service")
    hands = Hands(cast.technician, Job.objects.get(pk=job.pk))
    before = [slot.step.key for slot in hands.here().slots]
    hands.begin()
    assert hands.here().conditions["bike"] == "away" and [slot.step.key for slot in hands.here().slots] == before
    assert before and not {"wheel-out", "axle", "brake", "stem"} & {*before}
