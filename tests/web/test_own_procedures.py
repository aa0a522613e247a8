"""Procedures of the workshop's own: given by an owner, kept as versions, offered, and never changed under a job."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.test.utils import override_settings

from topout.procedures import library
from topout.procedures.read import FILE_LIMIT_BYTES
from topout.web.access.change import change
from topout.web.book import keeping as book
from topout.web.book.models import Rider
from topout.web.demo.load import OWN
from topout.web.jobs.core import danger
from topout.web.jobs.desk import own_folder, up_next
from topout.web.jobs.records import own
from topout.web.jobs.records.models import Job, OwnSwitch, OwnVersion, ProcedureText, StepEntry
from topout.web.jobs.release import drafted, sheet
from topout.web.jobs.release.contradictions import faults_of
from topout.web.jobs.steps import owners, sign
from topout.web.jobs.steps.progress import walk
from web import own_kit, people
from web.own_kit import KEY, TEXT, keep, name_of, text
from web.people import Cast
from web.steps_kit import BENCH as BENCH_FILE
from web.steps_kit import START, Hands, failing, freeze, gauge, make_job
from web.test_queries import BENCH, SIGN, STEP, asked
from web.test_steps_without_plan import FORK

EXAMPLE = Path(own_folder.__file__).parents[2] / "demo" / f"{OWN}.toml"
NEW = "/procedures/new/"


def send(client: Client, source: str = TEXT, key: str = KEY, **more: object) -> people.HasContent:
    return people.send(client, NEW, {"key": key, "text": source, **more})  # type: ignore[no-any-return]


def job_with(who: Cast, name: str, number: int = 301) -> Hands:
    rider = Rider.objects.create(name="Ilse Varn", made_at=START)
    with change(who.technician, "unit", {}, at=START) as doing:
        unit = book.make_unit(doing, bike=None, name="a fork", tables=FORK)
    job = Job.objects.create(
        number=number, rider=rider, unit=unit, asked="Look at it.", asked_title="winter look", taken_in_at=START,
        taken_in_by=who.technician, technician=who.technician, procedure=name,
    )  # fmt: skip
    return Hands(who.technician, job)


def offered(client: Client) -> str:
    """The answers that the take-in offers, one a line: `key>name`."""
    page = client.get("/jobs/new/").content.decode()
    found = re.findall(r'name="procedure" value="([^"]*)"[^>]*><span>(.*?)</span>', page)
    assert len(found) > 8
    return "\n".join(f"{key}>{name}" for key, name in found) + "\n"


# ---- giving


def test_an_owner_gives_a_text_and_it_is_offered_marked(owner_in: Client, technician_in: Client, cast: Cast) -> None:
    assert send(owner_in).status_code == 303  # type: ignore[attr-defined]
    row = OwnVersion.objects.get()
    assert (row.key, row.version, row.title, row.source, row.who, row.who_name) == (
        KEY,
        1,
        "Wiper care",
        TEXT,
        cast.owner,
        "Maud Askel",
    )
    assert row.text.sha256 == library.digest(row.text.text) and row.text.text.startswith(TEXT)
    shown = offered(technician_in)
    assert "own:wiper-care:1>Wiper care, version 1, the workshop’s own\n" in shown
    assert "wheel and tyre clearance\n" in shown and "clearance, version" not in shown
    page = technician_in.get("/procedures/wiper-care/1/").content.decode()
    assert "Topout’s authors have not checked it" in page and "Put a drop of oil on each wiper lip." in page
    file = technician_in.get("/procedures/wiper-care/1/file/")
    assert file.content.decode() == TEXT and "wiper-care.toml" in file.headers["Content-Disposition"]


def test_only_an_owner_gives_looks_in_the_folder_or_switches(
    technician_in: Client, stranger: Client, cast: Cast
) -> None:
    keep(cast.owner)
    token = people.token(technician_in)
    for path, data in (
        (NEW, {"key": "seal-care", "text": text(title="Seal care")}),
        ("/procedures/folder/", {}),
        ("/procedures/wiper-care/switch/", {"on": "0"}),
    ):
        if path != "/procedures/wiper-care/switch/":
            assert technician_in.get(path).status_code == 403
        assert (
            technician_in.post(path, {**data, "csrfmiddlewaretoken": token, "change_key": "k" * 24}).status_code == 403
        )
        assert stranger.get(path).status_code == 302
    assert OwnVersion.objects.count() == 1 and not OwnSwitch.objects.exists()
    page = technician_in.get("/procedures/").content.decode()
    assert "Wiper care" in page and "<button" not in page.partition("<main")[2] and NEW not in page


def test_every_fault_stands_on_the_page_with_its_line_and_nothing_is_kept(owner_in: Client) -> None:
    wrong = (
        TEXT.replace("version = 1", "version = 0")
        .replace("Wipe both", "wipe both")
        .replace('pass = ["Whole"]', 'pass = ["Hole"]')
    )
    answer = send(owner_in, wrong, "Bad key")
    page = answer.content.decode()
    assert answer.status_code == 422 and not OwnVersion.objects.exists()  # type: ignore[attr-defined]
    for words in ("its name = ", "small letters joined by", "line 4, version = 0", "line 16, group 1, step 1, do", "a verb for the hand",
                  "line 28, group 1, step 3, evidence lip, pass"):  # fmt: skip
        assert words in page, words
    assert "wipe both stanchions" in page.partition("<textarea")[2], "what was given stands there to be mended"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "it is empty"), (b"grammar = \xe9\n", "no UTF-8"), (b"#" * (FILE_LIMIT_BYTES + 1), "at most 262144 are read"),
        (b"a = [[[[[[[[[[", "brackets stand more than 8 deep"), (b"\x00", "NUL"), (b"hello", "TOML is expected"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_procedure_is_refused(owner_in: Client, data: bytes, words: str) -> None:
    answer = send(owner_in, "", "", file=SimpleUploadedFile("seal-check.toml", data))
    assert answer.status_code == 422 and words in answer.content.decode(), answer.content.decode()[-3000:]  # type: ignore[attr-defined]
    assert not OwnVersion.objects.exists()


def test_a_files_name_is_the_procedures(owner_in: Client) -> None:
    assert send(owner_in, "", "", file=SimpleUploadedFile("Seal check.toml", TEXT.encode())).status_code == 422  # type: ignore[attr-defined]
    assert send(owner_in, "", "", file=SimpleUploadedFile("seal-check.toml", TEXT.encode())).status_code == 303  # type: ignore[attr-defined]
    assert OwnVersion.objects.get().key == "seal-check"
    nothing = send(owner_in, " ", "x")
    assert nothing.status_code == 422 and "Choose a file, or write the text below." in nothing.content.decode()  # type: ignore[attr-defined]


def test_sent_twice_it_is_kept_once(owner_in: Client) -> None:
    answer = people.send(owner_in, NEW, {"key": KEY, "text": TEXT}, times=2)
    assert answer.status_code == 303 and OwnVersion.objects.count() == 1


def test_another_text_is_another_version_and_no_version_is_given_twice(owner_in: Client, technician_in: Client) -> None:
    send(owner_in)
    for source, words in (
        (TEXT, "This text is here already, as version 1"), (TEXT.replace("drop", "dot"), "Write version = 2"),
    ):  # fmt: skip
        answer = send(owner_in, source)
        assert answer.status_code == 422 and words in answer.content.decode()  # type: ignore[attr-defined]
    twin = send(owner_in, TEXT, "wiper-twin")
    assert twin.status_code == 422 and "here already under “own:wiper-care:1”" in twin.content.decode()  # type: ignore[attr-defined]
    assert send(owner_in, text(3)).status_code == 303  # type: ignore[attr-defined]
    assert send(owner_in, text(2)).status_code == 422  # type: ignore[attr-defined]
    shown = offered(technician_in)
    assert "own:wiper-care:3" in shown and "own:wiper-care:1" not in shown
    page = technician_in.get("/procedures/wiper-care/1/").content.decode()
    assert 'href="/procedures/wiper-care/3/"' in page


def test_a_later_topout_that_would_refuse_a_text_says_so_and_its_jobs_go_on(
    cast: Cast, technician_in: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands = job_with(cast, name_of(keep(cast.owner)))
    monkeypatch.setattr("topout.procedures.check.VERBS", frozenset({"look"}))
    page = technician_in.get("/procedures/wiper-care/1/").content.decode()
    assert "Topout of today would not take this text" in page and "a verb for the hand" in page
    from topout.procedures import read

    read.pinned.cache_clear()
    hands.begin()
    assert hands.here().total == 3


# ---- the folder


@pytest.fixture
def folder(workshop: Path, tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "procedures"
    path.mkdir()
    with override_settings(PROCEDURES=path):
        yield path


def test_the_folder_says_which_files_are_whole_and_keeps_those(owner_in: Client, folder: Path) -> None:
    (folder / "wiper-care.toml").write_text(TEXT, "utf-8")
    (folder / "seal-care.toml").write_text(text(title="Seal care").replace("Wipe", "wipe"), "utf-8")
    (folder / "clearance.toml").write_text(text(title="Room"), "utf-8")
    (folder / "notes.txt").write_text("no procedure", "utf-8")
    page = owner_in.get("/procedures/folder/").content.decode()
    assert not OwnVersion.objects.exists(), "looking keeps nothing"
    assert (
        "Wiper care, version 1: whole, and not saved yet." in page
        and "Save the new one" in page
        and "notes" not in page
    )
    assert (
        "line 16, group 1, step 1, do" in page and "comes with Topout has it" in page and page.count("Not taken.") == 2
    )
    assert people.send(owner_in, "/procedures/folder/", {}).status_code == 303
    assert [row.key for row in OwnVersion.objects.all()] == ["wiper-care"]
    page = owner_in.get("/procedures/folder/").content.decode()
    assert "Wiper care, version 1 is saved." in page and "This text is here already, as version 1." in page
    assert page.count("Not taken.") == 2 and "Save the" not in page
    (folder / "wiper-care.toml").write_text(TEXT.replace("drop", "dot"), "utf-8")
    assert "Write version = 2" in owner_in.get("/procedures/folder/").content.decode()


def test_a_file_of_the_folder_that_is_none_is_not_waited_for_nor_followed(
    owner_in: Client, folder: Path, tmp_path: Path
) -> None:
    os.mkfifo(folder / "pipe.toml")
    (folder / "inner.toml").mkdir()
    outside = tmp_path / "outside.toml"
    outside.write_text(TEXT, "utf-8")
    (folder / "link.toml").symlink_to(outside)
    (folder / "big.toml").write_bytes(b"#" * (FILE_LIMIT_BYTES * 8))
    (folder / "raw.toml").write_bytes(b"\xff\xfe")
    page = owner_in.get("/procedures/folder/").content.decode()
    assert page.count("Not taken.") == 5, page[-4000:]
    assert (
        "no link and no folder" in page
        and "a link is not followed" in page
        and "at most 262144" in page
        and "no UTF-8" in page
    )


def test_a_folder_of_many_files_is_read_to_a_bound(owner_in: Client, folder: Path) -> None:
    for n in range(own_folder.MOST_FILES + 3):
        (folder / f"f{n:03}.toml").write_text("x", "utf-8")
    found = own_folder.look()
    assert len(found) == own_folder.MOST_FILES + 3
    assert all("not looked at" in str(each.faults[0]) for each in found[own_folder.MOST_FILES :])


def test_the_start_says_what_waits_in_the_folder(owner_in: Client, folder: Path) -> None:
    """How many are new, how many are at fault; nothing where nothing is to be done. Nothing is taken in by itself."""
    assert own_folder.told() == ""
    (folder / f"{KEY}.toml").write_text(TEXT, "utf-8")
    (folder / "broken.toml").write_text("x", "utf-8")
    assert own_folder.told().startswith(f"Procedures in {folder}: 1 new and 1 with faults.")
    assert not OwnVersion.objects.exists()
    (folder / "broken.toml").unlink()
    assert people.send(owner_in, "/procedures/folder/", {}).status_code == 303
    assert OwnVersion.objects.exists() and own_folder.told() == ""


def test_no_folder_is_said(owner_in: Client, tmp_path: Path) -> None:
    with override_settings(PROCEDURES=tmp_path / "nowhere"):
        assert "There is no folder" in owner_in.get("/procedures/folder/").content.decode()


# ---- a job and its version


def test_the_example_is_walked_to_its_end_and_handed_over(cast: Cast) -> None:
    gauge()
    hands = job_with(cast, name_of(keep(cast.owner, EXAMPLE.read_text("utf-8"), OWN)))
    hands.begin()
    assert hands.until(None) is None
    kept = ProcedureText.objects.get()
    assert kept.procedure == "own:winter-look:1" and kept == OwnVersion.objects.get().text
    assert sign.finished(hands.job) and not faults_of(hands.job)
    assert StepEntry.objects.filter(job=hands.job, step_key="bore-look", verdict="passed").exists()


def test_a_job_keeps_its_version_whatever_is_given_or_switched_off(
    cast: Cast, owner_in: Client, technician_in: Client
) -> None:
    first = name_of(keep(cast.owner))
    begun, waits = job_with(cast, first), job_with(cast, first, 302)
    begun.begin()
    begun.sign(begun.here().slots[0])
    keep(cast.owner, text(2).replace("Put a drop of oil on each wiper lip.", "Grease each wiper lip."))
    people.send(owner_in, "/procedures/wiper-care/switch/", {"on": "0"}, "/procedures/")
    for hands in (begun, waits):
        assert [slot.step.key for slot in hands.here().slots] == ["wipe", "oil-drop", "lip"]
        assert "oil on each wiper lip" in hands.here().slots[1].step.do
    assert begun.here().current is not None and begun.here().current.step.key == "oil-drop"
    assert "own:wiper-care" not in offered(technician_in), "what is off is not offered"
    page = technician_in.get("/jobs/302/steps/").content.decode()
    assert "switched off" in page and "Ask an owner before you begin." in page
    assert "switched off" not in technician_in.get("/jobs/301/steps/all/").content.decode(), "it has begun"
    # The job's own form keeps it: nothing else is forced on it by a change of the promised day.
    form = technician_in.get("/jobs/302/change/").content.decode()
    assert "Wiper care, version 1, the workshop’s own; not offered any more" in form
    fixed = technician_in.get("/jobs/301/change/").content.decode()
    assert "Wiper care, version 1, the workshop’s own</span>" in fixed and "own:wiper-care:2" not in fixed
    people.send(owner_in, "/procedures/wiper-care/switch/", {"on": "1"}, "/procedures/")
    assert "own:wiper-care:2" in offered(technician_in)
    assert [row.offered for row in OwnSwitch.objects.order_by("sequence")] == [False, True]
    waits.begin()
    assert waits.here().total == 3 and StepEntry.objects.filter(job=waits.job).latest("pk").procedure == first


def test_what_is_switched_off_can_not_be_chosen_by_hand(cast: Cast, technician_in: Client) -> None:
    row = keep(cast.owner)
    with change(cast.owner, "off", {}) as doing:
        own.switch(doing, KEY, False)
    for name in (row.text.procedure, "own:nothing:1", "own:wiper-care:2", "own:wiper-care:1 ", "own:"):
        answer = people.send(technician_in, "/jobs/new/", {
            "rider_name": "Ilse Varn", "unit_name": "a fork", "unit_kind": "fork", "asked_title": "t", "asked": "a", "technician": "jory", "procedure": name,
        })  # fmt: skip
        assert answer.status_code == 422 and "This procedure is not in the workshop." in answer.content.decode(), name
    assert not Job.objects.exists()


def test_a_card_that_names_a_version_which_is_not_kept_says_so(cast: Cast, technician_in: Client) -> None:
    hands = job_with(cast, "own:gone:7")
    for path in ("/", "/jobs/301/", "/jobs/301/steps/", "/jobs/301/hand-over/"):
        assert technician_in.get(path).status_code == 200, path
    assert "is not kept here" in technician_in.get("/jobs/301/steps/").content.decode()
    assert any(fault.hard for fault in faults_of(hands.job) if "not kept here" in fault.words)


def test_variants_of_a_version_are_switched_for_one_job(cast: Cast, owner_in: Client) -> None:
    gauge()
    hands = job_with(cast, name_of(keep(cast.owner, EXAMPLE.read_text("utf-8"), OWN)))
    keys = {slot.step.key for slot in hands.here().slots}
    with change(cast.owner, "variant", {}) as doing:
        owners.switch(doing, hands.job, "salted", True)
    assert {slot.step.key for slot in hands.here().slots} - keys == {"stanchion-pits"}


# ---- where it is read


def test_everything_that_reads_the_procedure_reads_the_version(cast: Cast, technician_in: Client) -> None:
    gauge()
    hands = job_with(cast, name_of(keep(cast.owner, EXAMPLE.read_text("utf-8"), OWN)))
    assert up_next.next_of(hands.job).sentence.startswith("Unpack it")
    hands.begin()
    unchecked = "Winter look, version 1. The workshop’s own text. Topout’s authors have not checked it."
    for path in ("/jobs/301/", "/jobs/301/steps/all/"):
        assert unchecked in technician_in.get(path).content.decode(), path
    page = technician_in.get("/jobs/301/steps/", follow=True).content.decode()
    assert "our own steps" in page.partition("<header")[2].partition("</header>")[0]
    hold = hands.until("main-vent-port")
    assert hold is not None
    hands.sign(hold, failing(hands.here(), hold))
    assert danger.of(hands.job)[0].charged and up_next.next_of(hands.job).blocked
    assert "Air stays trapped" in technician_in.get("/").content.decode()
    assert any(fault.hard and "sucked itself in" in fault.words for fault in faults_of(hands.job))
    paper, _ = sheet.sheet_of(hands.job)
    assert f"Worked by {unchecked}" in paper.before_ride
    hold = next(slot for slot in hands.here().slots if slot.step.key == "main-vent-port")
    hands.sign(hold)
    hands.until("bore-look")
    with change(cast.technician, "left", {}, at=hands.at) as doing:
        slot = hands.here().current
        assert slot is not None
        sign.leave(doing, hands.job, slot.step.key, "not-done", "the lamp is broken", hands.here().seen)
    assert any("Look down the bore" in line and "the lamp is broken" in line for line in drafted.not_checked(hands.job))


def test_steps_of_ours_are_not_called_the_workshops_own(cast: Cast, technician_in: Client) -> None:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    for path in ("/jobs/301/", "/jobs/301/steps/all/"):
        assert "the workshop’s own" not in technician_in.get(path).content.decode().casefold(), path
    assert not any("own text" in line for line in sheet.sheet_of(hands.job)[0].before_ride)


def test_the_sheet_says_checked_by_the_role_of_a_proof_not_by_the_key_of_a_step(cast: Cast) -> None:
    """A text may call any step brake, axle and stem: three ticks are no proof."""
    steps = "".join(
        f'[[group.step]]\nkey = "{key}"\ndo = "Look at it."\nevidence = [{{ key = "{key}", kind = "tick", label = "Seen" }}]\n'
        for key in sheet.CHECKED_LAST
    )
    hands = job_with(cast, name_of(keep(cast.owner, TEXT + steps)))
    hands.begin()
    hands.until(None)
    said = sheet.sheet_of(hands.job)[0].before_ride
    assert "Check brake, axle and stem before the first ride and after it." in said
    real = job_with(cast, "leak-test", 302)
    assert not drafted.proved(real.job, sheet.CHECKED_LAST)
    proofs = text(2, title="Wiper care, proved") + '[[group]]\ninclude = "on-the-bike"\n'
    proved = job_with(cast, name_of(keep(cast.owner, proofs)), 303)
    proved.job.unit_id = None
    proved.begin()
    proved.until(None)
    assert any("were checked on" in line for line in sheet.sheet_of(proved.job)[0].before_ride)


def test_the_bench_a_step_and_signing_ask_as_often_with_texts_of_its_own(cast: Cast, technician_in: Client) -> None:
    gauge()
    names = [name_of(keep(cast.owner, text(n + 1), KEY)) for n in range(3)]
    hands = job_with(cast, names[0])
    freeze(cast.technician, hands.job, BENCH_FILE)
    hands.begin()
    technician_in.get("/")
    few = asked(lambda: technician_in.get("/"))
    for number in range(302, 320):
        more = Hands(cast.technician, job_with(cast, names[number % 3], number).job, datetime(2026, 11, 4, tzinfo=UTC))
        freeze(cast.technician, more.job, BENCH_FILE)
        if number % 2:
            more.begin()
    many = asked(lambda: technician_in.get("/"))
    assert many == few <= BENCH, (few, many)
    place = "/jobs/301/steps/lip/"
    hands.until("lip")
    assert asked(lambda: technician_in.get(place)) <= STEP
    page = technician_in.get(place)
    data = {name: people.field_of(page, name, -1) for name in ("csrfmiddlewaretoken", "change_key", "seen")}
    assert asked(lambda: technician_in.post(place, {**data, "lip": "Whole"})) <= SIGN
    assert hands.here().current is None


# ---- attacks


def test_a_charged_fork_is_no_less_so_for_a_text_without_holds(cast: Cast) -> None:
    """What failed under one text stands under every other: the procedure is pinned, and the job says so."""
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    hands.begin()
    hold = hands.until("main-vent-port")
    assert hold is not None
    hands.sign(hold, failing(hands.here(), hold))
    keep(cast.owner)
    hands.job.procedure = "own:wiper-care:1"
    with pytest.raises(Exception, match="a procedure stays once a step of it is signed"):
        hands.job.save()
    hands.job.refresh_from_db()
    assert danger.of(hands.job) and walk(hands.job).blocked


def test_words_of_a_text_are_words_on_every_page(cast: Cast, technician_in: Client) -> None:
    odd = TEXT.replace("Wiped", 'Wiped & dried < dry > \\"dry\\"').replace(
        "A workshop", "<script>alert(1)</script> A workshop"
    )
    hands = job_with(cast, name_of(keep(cast.owner, odd)))
    hands.begin()
    for path in ("/procedures/wiper-care/1/", "/jobs/301/steps/", "/jobs/301/steps/all/"):
        page = technician_in.get(path, follow=True).content.decode()
        assert "<script>alert" not in page and "< dry >" not in page, path
    assert "&lt;script&gt;" in technician_in.get("/procedures/wiper-care/1/").content.decode()


def test_texts_of_the_kit_are_what_they_say() -> None:
    assert own_kit.text(2, title="Seal care").count("Seal care") == 1 and "version = 2" in own_kit.text(2)
