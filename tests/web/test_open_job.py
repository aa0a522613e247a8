"""What may be written to a job, by every address there is, in every state a job can be in; nothing is written beside the guard."""

from __future__ import annotations

import ast
import random
from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import URLPattern, reverse

import topout.web.jobs
from at_once import all_pass
from topout.web.access.change import change, new_key, writes
from topout.web.access.models import Change
from topout.web.jobs.core import danger
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import IMMUTABLE, Counter, FrozenPlan, Job, Photo, Release, Remark, StepEntry
from topout.web.jobs.records.open import HandedOver, open_job
from topout.web.jobs.records.sequence import next_job_number, next_sequence
from topout.web.jobs.steps.progress import walk
from web import addresses, job_states, people, raw
from web.job_states import MORE_STATES, STATES, WRITING
from web.people import Cast
from web.plan_cast import hollin_job
from web.shared import lay, using_file

JOBS = Path(topout.web.jobs.__file__).parent
NOT_THE_JOBS = {
    "job-tag",
    "job-tag-print",
    "steps-shown",
}  # the workshop's label, a tag's print and a person's own choice: nothing of the job is written
TRIES = 60  # of the generated attack; 5,000 in the soak
A_TURN = 5  # tries at a job in one state; ten in the soak
BY_TURNS = 13 * A_TURN  # of the one over every state: each of them once


def writing_addresses() -> list[str]:
    """Every address with a job in it that takes a POST; read from the list of addresses."""
    found: list[str] = []
    for pattern in addresses.patterns():
        if "number" not in pattern.pattern.converters:
            continue
        names: set[str] = set()
        view: Any = pattern.callback
        while view is not None:  # the decorators that say which methods are taken keep the list in a closure
            names |= {
                method
                for cell in (view.__closure__ or ())
                if isinstance(cell.cell_contents, list)
                for method in cell.cell_contents
            }
            view = getattr(view, "__wrapped__", None)
        assert names, f"{pattern.name} does not say which methods it takes"
        if "POST" in names:
            found.append(str(pattern.name))
    return found


def test_every_writing_address_of_a_job_is_tried() -> None:
    assert sorted(writing_addresses()) == sorted(WRITING)


@pytest.fixture(scope="module")
def files(template_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, bytes]:
    """A database for each state, made when it is first asked for."""
    folder = tmp_path_factory.mktemp("states")

    class Files(dict[str, bytes]):
        def __missing__(self, state: str) -> bytes:
            path = folder / f"{state}.sqlite3"
            path.write_bytes(template_file.read_bytes())
            with using_file(path), override_settings(PHOTOS=folder / "photos"):
                job_states.make(Cast(User.objects.get(username="maud"), User.objects.get(username="jory")), state)
            self[state] = path.read_bytes()
            return self[state]

    return Files()


@pytest.fixture
def at(files: Mapping[str, bytes], workshop: Path) -> Iterator[Any]:
    """Puts this test's database into a state."""

    yield lambda state: _laid(files[state], workshop)


def _laid(database: bytes, workshop: Path) -> Job:
    """The job of this database, laid into the workshop's file."""
    lay(database)
    return Job.objects.get()


@cache
def _patterns() -> dict[str, URLPattern]:
    return {str(pattern.name): pattern for pattern in addresses.patterns()}


def _address(name: str, wanted: Mapping[str, Any]) -> str:
    """With what it wants of these."""
    return reverse(name, kwargs={key: wanted[key] for key in _patterns()[name].pattern.converters})


class Desk:
    """A browser of each person who sends something, signed in once, with the token of its forms."""

    def __init__(self) -> None:
        self.browsers: dict[str, Client] = {}

    def open(self, who: str = "maud") -> None:
        if who not in self.browsers:
            self.browsers[who] = people.browser(User.objects.get(username=who))

    def post(self, name: str, job: Job, data: dict[str, Any], who: str = "maud") -> Any:
        """A form as a browser sends it, its token and a key of its own with it."""
        address = _address(name, job_states.argument(name, job))
        self.open(who)
        sent = {"csrfmiddlewaretoken": people.token(self.browsers[who]), "change_key": new_key(), **data}
        answer = self.browsers[who].post(address, sent)
        if name == "plan" and answer.status_code == 422 and 'name="reason_for"' in answer.content.decode():
            # What speaks against this plan takes an owner's reason, signed for exactly that.
            more = {"reason": "The rider wants it.", "reason_for": people.field_of(answer, "reason_for")}
            answer = self.browsers[who].post(address, sent | more)
        return answer


@pytest.mark.parametrize("state", STATES)
def test_an_address_takes_what_the_state_allows_and_nothing_else(state: str, at: Any, workshop: Path) -> None:
    """What is taken is tried on a database of its own each; what is refused leaves the same one to the next."""
    taken = [name for name, (_, allowed) in WRITING.items() if state in allowed]
    refused = [name for name in WRITING if name not in taken]
    job, desk = at(state), Desk()
    desk.open()  # once: each database of its own has them signed in
    connection.close()
    laid, before = workshop.read_bytes(), job_states.dump(workshop)
    all_pass(_is_taken, [(name, (name, laid, before, desk, workshop)) for name in taken])
    job = _laid(laid, workshop)
    forms = [(name, build(job)) for name, (build, _) in WRITING.items() if name in refused]
    kept = [job_states.dump(workshop)]
    all_pass(_is_refused, [(name, (name, data, state, job, desk, workshop, kept)) for name, data in forms])


def _is_taken(name: str, laid: bytes, before: dict[str, Any], desk: Desk, workshop: Path) -> None:
    job = _laid(laid, workshop)
    data = WRITING[name][0](job)
    answer = desk.post(name, job, data)
    assert answer.status_code in (200, 204, 302, 303), (answer.status_code, answer.content.decode()[-3000:])
    assert job_states.dump(workshop) != before


def _is_refused(
    name: str, data: dict[str, Any], state: str, job: Job, desk: Desk, workshop: Path, kept: list[Any]
) -> None:
    answer = desk.post(name, job, data)
    before, after = kept[-1], job_states.dump(workshop)
    kept.append(after)
    assert answer.status_code in (302, 303, 403, 409, 422), answer.status_code
    changed = {table for table in after if after[table] != before.get(table)}
    # A page that only leads on elsewhere keeps its key, and nothing besides.
    assert changed <= ({"access_change", "access_answer"} if answer.status_code == 303 else set()), (
        changed,
        answer.status_code,
    )
    if state == "released":
        assert answer.status_code == 403
        assert "is handed over" in answer.content.decode()


@pytest.mark.parametrize("tries", [TRIES, pytest.param(5000, marks=pytest.mark.soak)])
def test_a_released_job_attacked_takes_nothing(tries: int, at: Any, workshop: Path) -> None:
    """Any address, with any other address's form, as any person, its fields left out or made up."""
    job = at("released")
    chance = random.Random(41)
    whole = [build(job) for build, _ in WRITING.values()]
    before = job_states.dump(workshop)
    client = {who: people.browser(User.objects.get(username=who)) for who in ("maud", "jory")}
    tokens = {who: people.token(c) for who, c in client.items()}
    targets = [name for name in WRITING if name not in NOT_THE_JOBS]
    statuses = set()
    for _ in range(tries):
        name, who = chance.choice(targets), chance.choice(["maud", "jory"])
        data = {k: v for form in chance.sample(whole, 2) for k, v in form.items() if chance.random() < 0.8}
        data |= chance.choice(
            [{}, {"empty": "1"}, {"goes-on": "1"}, {"again": "1"}, {"seen": "0"}, {"fit_to_ride": "yes"}]
        )
        address = _address(name, job_states.argument(name, job))
        sent = {"csrfmiddlewaretoken": tokens[who], "change_key": new_key(), **data}
        statuses.add(client[who].post(address, sent).status_code)
    assert statuses == {403}
    assert job_states.dump(workshop) == before


STAYS = ("reading", "photo", "frozenplan", "stepentry", "remark", "release")


def _kept(workshop: Path) -> dict[str, list[Any]]:
    """The rows that nothing may change or take away."""
    found = job_states.dump(workshop)
    return {name: list(found[f"jobs_{name}"]) for name in STAYS}


@pytest.mark.parametrize("tries", [BY_TURNS, pytest.param(5000, marks=pytest.mark.soak)])
def test_any_address_attacked_in_every_state_opens_nothing(tries: int, at: Any, workshop: Path) -> None:
    """Any address, any two forms mixed, fields left out or made up, two people, in each state by turns, anew every few tries.

    What was kept stays as it is; nobody hands the job over; a failed hold stays one; what passed is what came before the
    step that comes next; nothing answers with a fault of ours.
    """
    chance, statuses, passed = random.Random(67), set(), 0
    targets = [name for name in WRITING if name not in NOT_THE_JOBS]
    alive = [*(state for state in STATES if state != "released"), *MORE_STATES]
    writes: dict[str, int] = defaultdict(int)
    a_turn = A_TURN if tries == BY_TURNS else 10
    for turn in range(tries // a_turn):
        state = alive[turn % len(alive)]
        job = at(state)
        form_of = cache(lambda name: WRITING[name][0](job))  # noqa: B023  drawn when it is first sent, old from then on
        client = {who: people.browser(User.objects.get(username=who)) for who in ("maud", "jory")}
        tokens = {who: people.token(each) for who, each in client.items()}
        before, dangers = _kept(workshop), [each.told for each in danger.of(job)]
        for _ in range(a_turn):
            name, who = chance.choice(targets), chance.choice(["maud", "jory"])
            forms = [form_of(each) for each in chance.sample(list(WRITING), 2)]
            data = {k: v for form in forms for k, v in form.items() if chance.random() < 0.8}
            data |= chance.choice(
                [
                    {},
                    {"empty": "1"},
                    {"goes-on": "1"},
                    {"again": "1"},
                    {"seen": "0"},
                    {"fit_to_ride": "yes"},
                    _seen_now(job),
                ]
            )
            wanted = job_states.argument(name, Job.objects.get())
            here = job_states.steps_of(Job.objects.get())
            if "key" in wanted and here is not None and chance.random() < 0.5:
                wanted["key"] = chance.choice(here.slots).step.key  # any step, not the one that comes next
            address = _address(name, wanted)
            sent = {"csrfmiddlewaretoken": tokens[who], "change_key": new_key(), **data}
            status = client[who].post(address, sent).status_code
            statuses.add(status)
            writes[state] += status in (200, 204, 302, 303)
        after = _kept(workshop)
        for table, rows in before.items():
            assert [row for row in after[table] if row in rows] == rows, (state, table)
        assert not Release.objects.exists(), state
        if [each.told for each in danger.of(job)][: len(dangers)] != dangers:
            _lifted_by_its_own_evidence(job, MORE_STATES.get(state, "empty-at-rest"))
        here = job_states.steps_of(Job.objects.get())
        if here is not None:
            passed += sum(here.passed(slot) for slot in here.slots)
            if here.current is not None and here.danger is None:
                late = [slot.step.key for slot in here.slots[here.at(here.current) + 1 :] if here.passed(slot)]
                rows_beside = {slot.step.key for slot in here.screen_of(here.current).slots}
                assert set(late) <= rows_beside, (state, late)
    assert statuses <= {200, 204, 302, 303, 400, 403, 404, 409, 422}, statuses
    assert passed, "no state had a step that passed: nothing was tried"
    assert set(writes) == set(alive) and (tries < 5000 or min(writes.values()) > 20), writes


def _lifted_by_its_own_evidence(job: Job, hold: str) -> None:
    """A failed hold point that stops nothing any more was signed again, as the step itself, with all its evidence passing."""
    entry = StepEntry.objects.filter(job=job, step_key=hold).latest("sequence")
    step = next(slot.step for slot in walk(job).slots if slot.step.key == hold)
    assert entry.verdict == "passed", entry.verdict
    answers = entry.evidence["answers"]
    assert all(each.optional or answers[each.key]["pass"] is True for each in step.evidence), answers


def _seen_now(job: Job) -> dict[str, str]:
    """As a form that was drawn this moment says it."""
    newest = StepEntry.objects.filter(job=job).order_by("-sequence").first()
    return {"seen": str(newest.sequence if newest is not None else 0)}


def test_a_released_job_can_still_be_looked_at(at: Any) -> None:
    job = at("released")
    client = people.browser(User.objects.get(username="jory"))
    for name in ("job", "plan", "papers", "steps-overview", "sheet"):
        assert client.get(reverse(name, args=[job.number])).status_code == 200, name


@pytest.mark.parametrize("record", ["reading", "photo", "frozenplan", "stepentry", "remark", "draft"])
def test_no_sql_adds_to_a_released_job(record: str, at: Any, workshop: Path) -> None:
    """Past Django too: the database itself refuses a row for a job that is handed over, and takes it for another."""
    at("blocked")
    with transaction.atomic():
        job = Job.objects.get()
        who = User.objects.get(username="jory")
        at_ = job.taken_in_at
        Photo.objects.create(
            job=job,
            sequence=next_sequence(job),
            who=who,
            at=at_,
            sha256="0",
            width_px=1,
            height_px=1,
            size_bytes=1,
            of="x",
        )
        changes_made = Remark.objects.create(
            job=job, sequence=next_sequence(job), who=who, at=at_, kind="remark", words="x"
        )
        job.drafts.create(place="x", who=who, at=at_)
    assert changes_made.who_name == "Jory Pask"
    connection.close()

    def insert() -> None:
        with raw.opened(workshop) as base:
            names = [row[1] for row in base.execute(f"PRAGMA table_info(jobs_{record})") if row[1] != "id"]
            picked = ["sequence + 700" if n == "sequence" else "place || '2'" if n == "place" else n for n in names]
            picked = ["NULL" if n == "corrects_id" else n for n in picked]
            base.execute(
                f"INSERT INTO jobs_{record} ({', '.join(names)}) SELECT {', '.join(picked)} FROM jobs_{record} ORDER BY id DESC LIMIT 1"
            )
            base.rollback()

    insert()
    with transaction.atomic():
        Release.objects.create(
            job=job, sequence=next_sequence(job), who=who, at=at_, found="f", done="d", left="l", next_service="n",
            fit_to_ride=False,
        )  # fmt: skip
    connection.close()
    with pytest.raises(Exception, match="the job is handed over"):
        insert()
    with raw.opened(workshop) as base, pytest.raises(Exception, match="the job is handed over"):
        base.execute("UPDATE jobs_job SET asked_title = 'another'")


def test_open_job_wants_a_change_around_it(workshop: Path, cast: Cast) -> None:
    job = hollin_job(cast.owner)
    with pytest.raises(RuntimeError, match="inside a change"):
        open_job(job.number)
    with transaction.atomic():
        assert open_job(job.number) == job


def test_handed_over_is_said_as_that(at: Any) -> None:
    job = at("released")
    with transaction.atomic(), pytest.raises(HandedOver):
        open_job(job.number)
    page = Desk().post("job-waits", job, {"words": "a part"}).content.decode()
    assert "<h1>Handed over</h1>" in page and "What comes back is a new job." in page
    assert "Ask the owner" not in page


# ------------------------------------------------------------------------------------- the syntax tree


@cache
def _functions() -> tuple[tuple[Path, ast.FunctionDef], ...]:
    return tuple(_each_function())


def _each_function() -> Iterator[tuple[Path, ast.FunctionDef]]:
    for path in sorted(JOBS.rglob("*.py")):
        if "migrations" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef):
                yield path, node


def _calls(node: ast.AST) -> list[str]:
    """The names that are called, dotted as they are written."""
    return [ast.unparse(each.func) for each in ast.walk(node) if isinstance(each, ast.Call)]


def _views() -> dict[str, Any]:
    found = {}
    for pattern in addresses.patterns():
        view = pattern.callback
        while hasattr(view, "__wrapped__"):
            view = view.__wrapped__
        found[str(pattern.name)] = view
    return found


def test_no_view_gets_its_job_for_writing_otherwise() -> None:
    """A view that writes takes its job by `open_job`, or by `job_of`, which is that where the form is sent."""
    views, seen = _views(), 0
    for name in set(WRITING) - NOT_THE_JOBS:
        view = views[name]
        tree = ast.parse(Path(view.__code__.co_filename).read_text())
        node = next(n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef) and n.name == view.__name__)
        helpers = {n.name: n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)}
        calls = _calls(node) + [
            call for each in _calls(node) if each in ("_job", "_sign", "_turn") for call in _calls(helpers[each])
        ]
        assert {"open_job", "job_of"} & set(calls), name
        assert "job_or_404" not in calls, name
        seen += 1
    assert seen == len(WRITING) - len(NOT_THE_JOBS)


def test_only_the_records_ask_the_database_for_one_job() -> None:
    """Nobody above them can get a job past the guard: no `Job.objects.get`, no `get_object_or_404(Job…)`."""
    for path, node in _functions():
        if path.parent.name == "records":
            continue
        for each in ast.walk(node):
            if not isinstance(each, ast.Call):
                continue
            words = ast.unparse(each)
            assert not words.startswith(("Job.objects.get(", "Job._default_manager.get(")), (path, words)
            assert not (
                words.startswith("get_object_or_404(Job") and "Job" in words.split("(")[1].split(",")[0].split(".")
            ), (path, words)


WRITERS = (
    "drafts.keep",
    "drafts.gone",
    "changes.",
    "readings.take",
    "readings.correct",
    "photos.keep",
    "keep_photo",
    "sign.",
    "core.freeze",
)


def test_a_draft_that_is_refused_was_not_kept_before() -> None:
    """`drafts.typing` commits whatever the view answers: inside it nothing is written before a refusal."""
    seen = 0
    for path, node in _functions():
        for block in ast.walk(node):
            if not (
                isinstance(block, ast.With)
                and any("drafts.typing" in ast.unparse(item.context_expr) for item in block.items)
            ):
                continue
            seen += 1
            wrote = 0
            placed: list[ast.expr | ast.stmt] = [n for n in ast.walk(block) if isinstance(n, ast.expr | ast.stmt)]
            for each in sorted(placed, key=lambda n: (n.lineno, n.col_offset)):
                words = ast.unparse(each)
                if isinstance(each, ast.Call) and words.startswith(
                    ("drafts.keep(", "drafts.gone(", "_keep_draft(", "drafts.take(")
                ):
                    wrote = each.lineno
                if isinstance(each, ast.Return) and "status=4" in words:
                    assert not wrote, (path, each.lineno)
    assert seen >= 4


# ------------------------------------------------------------------------------------- a view that writes, then refuses


@pytest.mark.parametrize("how", ["422", "409", "200", "raises", "goes on"])
def test_a_view_that_writes_and_then_refuses_has_written_nothing(how: str, cast: Cast) -> None:
    job = hollin_job(cast.owner)

    @writes
    def view(request: HttpRequest) -> HttpResponse:
        changes.remark(request.change, job, "remark", "written before the refusal")  # type: ignore[attr-defined]
        if how == "raises":
            raise PermissionDenied("no")
        return redirect("/") if how == "goes on" else HttpResponse("no", status=int(how))

    request = RequestFactory().post("/x/", {"change_key": "one"})
    request.user = cast.technician
    before, last = Change.objects.count(), Job.objects.get().last_record
    if how == "raises":
        with pytest.raises(PermissionDenied):
            view(request)
    else:
        view(request)
    kept = how == "goes on"
    assert Remark.objects.filter(job=job).exists() is kept
    assert Change.objects.count() == before + kept and Job.objects.get().last_record == last + kept


# ------------------------------------------------------------------------------------- names and numbers


def test_an_account_renamed_later_rewrites_nothing(at: Any, workshop: Path) -> None:
    job = at("in steps")
    with change(User.objects.get(username="jory"), "more", {}) as doing:
        changes.remark(doing, job, "condition", "One mark.")
    client = people.browser(User.objects.get(username="maud"))
    addresses_ = [reverse(name, args=[job.number]) for name in ("job", "steps-overview", "plan")]
    before = [client.get(each).content.decode() for each in addresses_]
    user = User.objects.get(username="jory")
    user.first_name, user.last_name = "Another", "Person"
    user.save()
    after = [client.get(each).content.decode() for each in addresses_]
    for old, new in zip(before, after, strict=True):
        assert old.count("Jory Pask") > 0
        # Who does the job now is no signature: that line alone follows the account.
        assert new.count("Another Person") == old.count("Jory Pask does it")
        assert new.count("Jory Pask") == old.count("Jory Pask") - old.count("Jory Pask does it")
    for model in IMMUTABLE:
        names = set(model._default_manager.filter(job=job).values_list("who_name", flat=True))
        assert names <= {"Jory Pask", "Maud Askel"}
    with change(user, "more", {}) as doing:
        assert changes.remark(doing, job, "condition", "Two.").who_name == "Another Person"


def test_a_job_counts_its_records_over_all_kinds(at: Any) -> None:
    job = at("blocked")
    numbers = sorted(
        n for model in IMMUTABLE for n in model._default_manager.filter(job=job).values_list("sequence", flat=True)
    )
    assert numbers == list(range(1, len(numbers) + 1)) and numbers[-1] == job.last_record
    assert StepEntry.objects.exists() and FrozenPlan.objects.exists()
    stale = Job.objects.get()
    with transaction.atomic():
        assert next_sequence(job) == numbers[-1] + 1
    stale.asked_title = "another"
    stale.save()  # a row read before does not wind the counter back
    assert Job.objects.get().last_record == numbers[-1] + 1 and Job.objects.get().asked_title == "another"


def test_the_next_number_is_one_query(at: Any) -> None:
    job = at("blocked")
    with transaction.atomic(), CaptureQueriesContext(connection) as caught:
        next_sequence(job)
    assert len(caught) == 1, caught.captured_queries


def test_two_writers_never_get_one_number(at: Any, workshop: Path) -> None:
    job = at("planned")
    got: list[int] = []

    def write() -> None:
        for _ in range(10):
            with transaction.atomic():
                got.append(next_sequence(job))
        connection.close()

    threads = [Thread(target=write) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(got) == len(set(got)) == 40


def test_job_numbers_come_from_a_counter_and_pass_by_what_is_there(workshop: Path, cast: Cast) -> None:
    with transaction.atomic():
        assert [next_job_number() for _ in range(3)] == [201, 202, 203]
    job = hollin_job(cast.owner)
    assert job.number == 204
    Job.objects.filter(pk=job.pk).update(number=300)
    with transaction.atomic():
        assert next_job_number() == 301
    assert Counter.objects.get().last == 301


def test_a_job_whose_number_is_taken_back_is_never_given_again(workshop: Path, cast: Cast) -> None:
    """A counter, not the highest card: a number that was given stays given."""
    job = hollin_job(cast.owner)
    Job.objects.filter(pk=job.pk).update(number=1)
    with transaction.atomic():
        assert next_job_number() == 202
