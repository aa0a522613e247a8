"""Copies by themselves: which stay, when one is due, that no fault ends the thread, before an upgrade, what the pages say."""

from __future__ import annotations

import logging
import random
import shutil
import time as clock_time
from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import ImproperlyConfigured
from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import override_settings

from topout.web import clock, modes, opening, start
from topout.web.access.models import Workshop
from topout.web.backup import archive, copies, files, make, names, nightly, page, snapshot
from topout.web.backup.make import NoCopy
from topout.web.backup.names import Name, Retention
from topout.web.book.models import Rider
from topout.web.environment import Environment
from web import people, raw
from web.served import served

NOW = datetime(2026, 11, 29, 2, 31, tzinfo=UTC)
DUBLIN = ZoneInfo("Europe/Dublin")
MARK = "3f9a1c"
DOCS = Path(__file__).parents[2] / "docs"


def night(at: datetime, reason: str = names.NIGHT) -> Name:
    return Name(MARK, at, reason)


def test_a_copys_name_is_read_back_and_no_other_name_is_one() -> None:
    for name in (night(NOW), Name("000000", NOW, names.ASKED, 12)):
        assert names.read(str(name)) == name
    for other in ("topout.zip", "letter.zip", f"{night(NOW)}.part", str(night(NOW)).upper(), f"x{night(NOW)}",
                  "topout-3f9a1c-20261329T023000Z-night.zip", "topout-3f9a1c-20261129T023000Z-other.zip"):  # fmt: skip
        assert names.read(other) is None


def by_hand(copies_there: list[Name], retention: Retention, now: datetime) -> set[Name]:
    """The second way: walk from the newest back and give each night, week and month that is still wanted its first."""
    stays: set[Name] = set()
    for number, of in (
        (retention.nights, "%Y-%m-%d"), (retention.weeks, "%G-%V"), (retention.months, "%Y-%m"),
    ):  # fmt: skip
        had: list[str] = []
        for name in sorted((n for n in copies_there if n.reason == names.NIGHT), key=lambda n: n.at, reverse=True):
            bucket = name.at.astimezone(DUBLIN).strftime(of)
            if bucket not in had and len(had) < number:
                had.append(bucket)
                stays.add(name)
    return stays


def test_two_years_of_nights_leave_seven_nights_five_weeks_and_twelve_months() -> None:
    """Grown night by night, as it happens, with nights missed; compared with the rule counted by hand."""
    chance, there, retention = random.Random(3), set[Name](), Retention()
    for day in range(730):
        if chance.random() < 0.15:
            continue
        now = NOW + timedelta(days=day)
        there.add(night(now))
        there -= names.spent(there, retention, DUBLIN, now)
        assert night(now) in there and len(there) <= 24
    assert there == by_hand(sorted(there, key=lambda n: n.at), retention, now)
    months = {name.at.astimezone(DUBLIN).strftime("%Y-%m") for name in there}
    assert len(months) >= 12 and len(there) >= 20


def test_what_was_asked_for_stays_and_upgrades_are_counted_alone() -> None:
    asked = [night(NOW - timedelta(days=900 + n), names.ASKED) for n in range(30)]
    upgrades = [night(NOW - timedelta(days=n), names.MIGRATION) for n in range(30)]
    gone = names.spent([*asked, *upgrades], Retention(), DUBLIN, NOW)
    assert gone == set(upgrades[10:])


def test_the_last_one_stays_whatever_is_set_and_the_future_is_left_alone() -> None:
    old = night(NOW - timedelta(days=4000), names.MIGRATION)
    ahead = night(NOW + timedelta(days=4000))
    nothing = Retention(1, 0, 0, 0)
    assert names.spent([old, ahead], nothing, DUBLIN, NOW) == set()
    assert names.spent([old, night(NOW), ahead], nothing, DUBLIN, NOW) == {old}


@pytest.mark.parametrize(
    ("now", "due"),
    [
        ("2026-11-29T02:29:00+00:00", "2026-11-28T02:30:00+00:00"), ("2026-11-29T02:30:00+00:00", "2026-11-29T02:30:00+00:00"),
        ("2026-07-01T01:29:00+00:00", "2026-06-30T01:30:00+00:00"), ("2026-07-01T01:30:00+00:00", "2026-07-01T01:30:00+00:00"),
        ("2026-03-29T01:30:00+00:00", "2026-03-29T01:30:00+00:00"),  # summer time begins: 01:59 is followed by 02:00 → 03:00
    ],
)  # fmt: skip
def test_due_is_the_last_hour_of_copying_by_the_workshops_clock(now: str, due: str) -> None:
    assert nightly.due_since(datetime.fromisoformat(now), time(2, 30), DUBLIN) == datetime.fromisoformat(due)


@pytest.fixture
def own(demo: Path) -> Path:
    """A workshop of one's own with the demo's records."""
    Workshop.objects.update(demo=False)
    return demo


@pytest.fixture
def thread(own: Path) -> nightly.Nightly:
    made = nightly.Nightly(copies.of_settings(), time(2, 30), lambda: NOW, first_look_s=0.0)
    return made


def test_ctrl_c_waits_for_no_copy(thread: nightly.Nightly) -> None:
    assert thread.daemon


def at(thread: nightly.Nightly, moment: datetime) -> bool:
    thread.clock = lambda: moment
    return thread.look()


def zips(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.zip"))


def test_one_copy_a_night_and_a_missed_night_is_made_up_for(thread: nightly.Nightly) -> None:
    folder = thread.copies.folder
    assert at(thread, NOW) and not at(thread, NOW + timedelta(hours=1)) and not at(thread, NOW + timedelta(hours=23))
    assert at(thread, NOW + timedelta(days=1)) and not at(thread, NOW + timedelta(days=1, hours=2))
    assert at(thread, NOW + timedelta(days=3, hours=6)), "two nights off: made up for in the morning, once"
    assert not at(thread, NOW + timedelta(days=3, hours=7))
    assert len(zips(folder)) == 3 and all(archive.check(path).reason == "night" for path in zips(folder))
    assert oct(folder.stat().st_mode)[-3:] == "700"


def test_a_copy_that_fails_is_tried_again_after_an_hour_and_said(
    thread: nightly.Nightly, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(snapshot, "take", full)
        with pytest.raises(NoCopy, match="is full"):
            at(thread, NOW)
        assert not at(thread, NOW + timedelta(minutes=59))
    last = thread.copies.last()
    assert last is not None and "is full" in last.failed and last.at == NOW
    assert at(thread, NOW + timedelta(minutes=61))
    last = thread.copies.last()
    assert last is not None and last.failed == ""


def test_no_fault_ends_the_thread(
    thread: nightly.Nightly, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    tried: list[int] = []

    def look() -> bool:
        tried.append(1)
        if len(tried) == 1:
            raise NoCopy("the disk is gone")
        if len(tried) == 2:
            raise ZeroDivisionError
        return False

    monkeypatch.setattr(thread, "look", look)
    monkeypatch.setattr(nightly, "LOOKS_EVERY_S", 0.01)
    with caplog.at_level(logging.ERROR):
        thread.start()
        until = clock_time.monotonic() + 10
        while len(tried) < 4 and clock_time.monotonic() < until:
            clock_time.sleep(0.01)
        thread.ended.set()
        thread.join(5)
    assert len(tried) >= 4 and not thread.is_alive()
    assert "the disk is gone" in caplog.text and "fault of Topout" in caplog.text


def test_only_our_own_copies_are_let_go_of(thread: nightly.Nightly) -> None:
    folder = thread.copies.folder
    assert at(thread, NOW)
    (mine,) = zips(folder)
    mark = snapshot.mark(snapshot.started(thread.copies.source.database))
    long_ago = NOW - timedelta(days=3000)
    foreign = folder / str(Name(mark, long_ago, names.NIGHT))  # a name like ours, and no copy in it
    foreign.write_text("somebody's")
    others = folder / str(Name("0" * 6, long_ago, names.NIGHT))
    shutil.copyfile(mine, others)
    letter = folder / "letter.zip"
    letter.write_text("mine")
    old = folder / str(Name(mark, long_ago - timedelta(days=1), names.NIGHT))
    shutil.copyfile(mine, old)
    thread.copies = copies.Copies(thread.copies.source, folder, Retention(1, 0, 0, 0))
    assert at(thread, NOW + timedelta(days=1))
    assert not old.exists() and not mine.exists()
    assert foreign.exists() and others.exists() and letter.exists() and len(zips(folder)) == 4


def test_nothing_is_let_go_of_for_a_copy_that_is_not_whole(thread: nightly.Nightly) -> None:
    """The older one may hold the photo that this one lacks."""
    assert at(thread, NOW)
    photo = next(thread.copies.source.photos.rglob("*.jpg"))
    photo.unlink()
    thread.copies = copies.Copies(thread.copies.source, thread.copies.folder, Retention(1, 0, 0, 0))
    assert at(thread, NOW + timedelta(days=1))
    assert len(zips(thread.copies.folder)) == 2
    last = thread.copies.last()
    assert last is not None and photo.stem[:12] in last.losses[0]


def test_a_named_folder_that_is_not_there_is_not_made(own: Path, tmp_path: Path) -> None:
    with override_settings(BACKUPS=tmp_path / "stick", BACKUPS_NAMED=True):
        with pytest.raises(NoCopy, match="no such folder"):
            copies.of_settings().make(names.NIGHT, NOW)
        assert not (tmp_path / "stick").exists()
        (tmp_path / "stick").mkdir()
        assert copies.of_settings().make(names.NIGHT, NOW).path.parent == tmp_path / "stick"


@pytest.fixture
def behind(own: Path) -> Iterator[Path]:
    """A database to which one migration has not been applied yet: a made-up one, taken off its list."""
    with raw.opened(own) as base:
        last = base.execute("SELECT max(name) FROM django_migrations WHERE app = 'jobs'").fetchone()[0]
        base.execute("DELETE FROM django_migrations WHERE app = 'jobs' AND name = ?", (last,))
    yield own


def test_before_an_upgrade_a_copy_is_made_and_without_one_the_upgrade_waits(
    behind: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    migrated: list[object] = []
    monkeypatch.setattr(opening, "call_command", lambda *words, **_: migrated.append(words))

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(snapshot, "take", full)
        with pytest.raises(start.Refused, match="upgrade waits.* is full"):
            opening.bring_up_to_date()
        assert migrated == []
    opening.bring_up_to_date()
    assert len(migrated) == 1
    (copy,) = zips(behind.parent / "backups")
    assert archive.check(copy).reason == "upgrade" and str(copy) in capsys.readouterr().out


def test_the_demo_and_a_first_start_make_no_copy(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "call_command", lambda *_, **__: None)
    monkeypatch.setattr("topout.web.backup.at_start.behind", lambda: True)
    opening.bring_up_to_date()
    with override_settings(DATABASE_PATH=demo), opening.in_service(Workshop.objects.get()):
        clock_time.sleep(0.1)
    Workshop.objects.all().delete()
    opening.bring_up_to_date()
    assert not (demo.parent / "backups").exists()


def told_on(client: Client) -> str:
    return client.get("/").content.decode()


def test_the_bench_says_when_the_last_copy_is_too_old(own: Path) -> None:
    client = people.browser(User.objects.get(username="jory"))
    Workshop.objects.update(started_at=NOW)
    with clock.frozen(NOW + timedelta(hours=35)):
        assert "copy of this workshop" not in told_on(client), "a new workshop has its first night before it"
    with clock.frozen(NOW + timedelta(hours=37)):
        assert "There is no copy of this workshop." in told_on(client)
        with override_settings(BACKUP_AT=None):
            assert "copy of this workshop" not in told_on(client)
    of = copies.of_settings()
    of.make(names.NIGHT, NOW)
    with clock.frozen(NOW + timedelta(hours=35)):
        assert "copy of this workshop" not in told_on(client)
    with clock.frozen(NOW + timedelta(days=3)):
        text = told_on(client)
        # A warning shows where it holds a paragraph; one that is the paragraph is hidden by the sheet (seen as a picture).
        assert '<div class="warn"><p>The last copy of this workshop is 3 days old.</p></div>' in text
    of._note({"at": NOW.isoformat(), "reason": "night", "failed": "The <disk> is full."})
    with clock.frozen(NOW + timedelta(days=3)):
        assert "The last try failed: The &lt;disk&gt; is full." in told_on(client)
    ahead = of.folder / str(Name(of.listed(snapshot.mark(snapshot.started(own)))[0].name.mark, NOW + timedelta(days=900), "night"))  # fmt: skip
    ahead.write_text("made under a wrong clock")
    with clock.frozen(NOW + timedelta(days=3)):
        assert "is 3 days old" in told_on(client), "a copy from the future says nothing"
    Workshop.objects.update(demo=True)
    with clock.frozen(NOW + timedelta(days=3)):
        assert "copy of this workshop" not in told_on(client)


def test_the_note_of_the_last_try_may_be_spoilt(own: Path) -> None:
    of = copies.of_settings()
    for text in ("", "[]", "{}", '{"at": "x", "reason": ""}', "\0"):
        own.with_suffix(".copies").write_text(text)
        assert of.last() is None and page.for_bench() is not None


def test_what_a_copy_gives_away_stands_on_the_pages_and_in_the_docs_alike(own: Path) -> None:
    """One sentence each for page and document: a copy is not encrypted, and keeps an erased rider's name."""
    document = " ".join((DOCS / "backups.md").read_text(encoding="utf-8").split())
    owner = people.browser(User.objects.get(username="maud"))
    pages = {
        "parts/open_to_read.html": "/workshop/",
        "parts/names_stay.html": f"/book/riders/{Rider.objects.filter(erased_at=None)[0].pk}/erase/",
    }
    for part, address in pages.items():
        said = render_to_string(part)
        assert len(said) > 100 and said in document and said in owner.get(address).content.decode(), part


def test_the_workshop_page_says_where_when_how_large_and_what_failed(own: Path) -> None:
    owner = people.browser(User.objects.get(username="maud"))
    assert "none yet" in owner.get("/workshop/").content.decode()
    of = copies.of_settings()
    made = of.make(names.NIGHT, clock.now())
    text = owner.get("/workshop/").content.decode()
    assert (
        str(of.folder) in text and make.size(made.bytes).replace("\xa0", " ") in text and "by itself, at night" in text
    )
    of._note({"at": NOW.isoformat(), "reason": "night", "failed": "The disk is full."})
    assert "The disk is full." in owner.get("/workshop/").content.decode()


def test_an_owner_downloads_a_fresh_copy_and_nothing_of_it_stays(own: Path, tmp_path: Path) -> None:
    owner, technician = (people.browser(User.objects.get(username=name)) for name in ("maud", "jory"))
    answer = people.send(owner, "/workshop/copy/", {}, page_path="/workshop/")
    assert answer.status_code == 200 and answer.headers["Content-Type"] == "application/zip"
    assert "no-store" in answer.headers["Cache-Control"] and "attachment" in answer.headers["Content-Disposition"]
    path = tmp_path / "got.zip"
    path.write_bytes(b"".join(answer.streaming_content))
    answer.close()
    assert archive.check(path).whole and int(answer.headers["Content-Length"]) == path.stat().st_size
    assert not list(own.parent.glob(f"{page.DOWNLOAD}*")) and not (own.parent / "backups").exists()
    assert technician.post("/workshop/copy/", {}).status_code == 403
    assert owner.post("/workshop/copy/", {}).status_code == 403, "without its token"
    assert owner.get("/workshop/copy/").status_code == 405


def test_a_download_over_the_network_is_whole_and_leaves_nothing(own: Path, tmp_path: Path) -> None:
    """By the server that is used, which sends the file by itself; once to the end, once with a browser that goes away."""
    session = people.browser(User.objects.get(username="maud"))
    page_ = session.get("/workshop/")
    token, key = (people.field_of(page_, name) for name in ("csrfmiddlewaretoken", "change_key"))
    cookie = "; ".join(f"{name}={morsel.value}" for name, morsel in session.cookies.items())
    data = urlencode({"csrfmiddlewaretoken": token, "change_key": key}).encode()
    with served() as address:
        host = address.removeprefix("http://")
        for whole in (True, False):
            line = HTTPConnection(host, timeout=30)
            line.request("POST", "/workshop/copy/", data, {
                "Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded", "Origin": address, "Referer": f"{address}/workshop/",
            })  # fmt: skip
            answer = line.getresponse()
            assert answer.status == 200, answer.read()
            if whole:
                (tmp_path / "got.zip").write_bytes(answer.read())
                assert archive.check(tmp_path / "got.zip").whole
            else:
                answer.read(10)
            line.close()
            until = clock_time.monotonic() + 20
            while list(own.parent.glob(f"{page.DOWNLOAD}*")) and clock_time.monotonic() < until:
                clock_time.sleep(0.05)
            assert not list(own.parent.glob(f"{page.DOWNLOAD}*")), whole


def test_a_download_that_can_not_be_made_is_said_on_the_page(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    owner = people.browser(User.objects.get(username="maud"))
    monkeypatch.setattr(snapshot, "take", full)
    answer = people.send(owner, "/workshop/copy/", {}, page_path="/workshop/")
    assert answer.status_code == 302 and "is full" in owner.get("/workshop/").content.decode()
    assert not list(own.parent.glob(f"{page.DOWNLOAD}*"))


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("TOPOUT_BACKUP_AT", "2:30", "write a time"), ("TOPOUT_BACKUP_AT", "24:00", "write a time"), ("TOPOUT_BACKUP_AT", "no", "or off"),
        ("TOPOUT_BACKUP_KEEP", "7,5,12", "4 whole numbers"), ("TOPOUT_BACKUP_KEEP", "0,5,12,10", "at least 1"),
        ("TOPOUT_BACKUP_KEEP", "7,5,12,-1", "whole numbers"), ("TOPOUT_BACKUP_KEEP", "7,5,12,٣", "whole numbers"),
    ],
)  # fmt: skip
def test_a_setting_of_the_copies_at_fault_is_named(name: str, value: str, says: str) -> None:
    outside = Environment({name: value})
    with pytest.raises(ImproperlyConfigured, match=f"{name}.*{says}"):
        outside.time_of_day("TOPOUT_BACKUP_AT", "02:30")
        outside.numbers("TOPOUT_BACKUP_KEEP", "7,5,12,10")


def test_what_is_noted_of_copies_is_the_workshops_own_and_closed_to_others(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    folder.mkdir(mode=0o755)
    for name in ("w.sqlite3", "w.secret", "w.witness", "w.copies", "w.lock"):
        (folder / name).write_text("x")
    (folder / "before-restore-20261129T023000Z").mkdir()
    (folder / "backups").mkdir(mode=0o755)
    (folder / "backups" / "copy.zip").write_text("x")
    (folder / "backups" / "copy.zip").chmod(0o644)
    said = modes.mend(folder / "w.sqlite3", folder / "photos", folder / "w.secret", folder / "backups")
    assert "holds other things" not in said and "the copies" in said and "the folder" in said
    assert not any(
        path.stat().st_mode & 0o077 for path in [folder, folder / "backups", folder / "backups" / "copy.zip"]
    )


def test_a_small_file_is_the_old_or_the_new_one_and_locks_are_of_a_process(tmp_path: Path) -> None:
    path = tmp_path / "note"
    files.save_json(path, {"a": 1})
    with pytest.raises(TypeError):
        files.save_json(path, {"a": object()})
    assert files.read_json(path) == {"a": 1} and [each.name for each in tmp_path.iterdir()] == ["note"]
    with files.locked(tmp_path / "lock", shared=True), files.locked(tmp_path / "lock", shared=True):
        with pytest.raises(files.Held), files.locked(tmp_path / "lock"):
            pass
    with files.locked(tmp_path / "lock"):
        pass


@pytest.mark.parametrize(
    ("at_", "is_demo", "runs"), [(time(2, 30), False, True), (None, False, False), (time(2, 30), True, False)]
)
def test_a_copy_is_made_every_night_where_a_time_is_set_and_it_is_no_demo(
    demo: Path, monkeypatch: pytest.MonkeyPatch, at_: time | None, is_demo: bool, runs: bool
) -> None:
    said: list[str] = []

    class Night:
        def __init__(self, *_: object) -> None:
            self.ended = self

        def start(self) -> None:
            said.append("start")

        def set(self) -> None:
            said.append("ended")

    monkeypatch.setattr(opening, "Nightly", Night)
    workshop = Workshop.objects.get()
    workshop.demo = is_demo
    with override_settings(DATABASE_PATH=demo, BACKUP_AT=at_), opening.in_service(workshop):
        assert said == ["start"] * runs
    assert said == ["start", "ended"] * runs
