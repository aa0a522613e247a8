"""What is dangerous on a job: every hold point that failed and was not passed since. A fact of its entries alone.

Each entry is judged by the text it was signed under and stands against the plan it was signed with, so no later plan,
order of steps, text of the procedure or data of the unit makes it vanish. It is lifted by one thing: a later entry
that passes the same point. A point is a step and its round; the last round of a filling passes all its rounds. What
failed by a plan's figures is not lifted by a filling of which nothing was expected: the figures have to come back.
A step of a text of the workshop's own that has the same key is the same point only where it asks for the same. What proves a
chamber empty by the same question, by another step of ours at a later job, lifts it too: not every order of steps has the
same point. Brake, axle and stem are the bike's: a later pass at a job of another of its units lifts them too.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from topout.errors import TopoutError
from topout.planner import variables
from topout.procedures import library, read
from topout.procedures.model import Evidence, Step
from topout.procedures.roles import LOOKED_FOR
from topout.web.jobs.core import leak_hold
from topout.web.jobs.records import own, readings, texts
from topout.web.jobs.records.models import Job, ProcedureText, Reading, StepEntry

TRAPPED, SECOND, SPRING, GAS = "trapped-chamber", "second-chamber", "loaded-spring", "gas"
_CHARGED = "charged, do not open"
_TAG_SAYS = {SPRING: "wound up, do not open", GAS: "may hold gas, do not open"}
PROVES_EMPTY = (
    "air-out",
    "empty-at-rest",
    "empty-by-shaft",
    "second-out",
)  # roles: where it fails, something is shut in
OF_BIKE = ("brake", "axle", "stem")  # roles of what is looked at on the bike, whichever of its units the job is about
BY_READINGS = "by-readings"  # in the evidence of a filling's round of which no plan expected anything
_SLACK = 1e-9  # relative, as bands are judged
_Point = tuple[str, int, int | None]  # step, round, and the bike of what is looked at on the bike


@dataclass(frozen=True)
class Danger:
    """A failed hold point: the entry it was found by, and what its step's own text says of it.

    `stops` says that nothing after it may be done; `shows` what its step says is charged or wound up, if anything; `shut_in` that it
    was to prove a chamber empty; `hangs` that hands or a rider hang on it, so that its step takes no “not done”; `of_bike` that it is
    looked at on the bike; `asked` how a step of ours asked whether a chamber is empty; `proof` the role that proves empty what a step of
    ours looked for; `step` is the one that failed, None where its text is not kept.
    """

    entry: StepEntry
    title: str
    text: str
    stops: bool
    shows: str = ""
    hangs: bool = False
    of_bike: bool = False
    shut_in: bool = False
    asked: tuple[Any, ...] = ()
    proof: str = ""
    step: Step | None = None

    @property
    def charged(self) -> bool:
        """Whether a chamber still holds pressure, whatever its page draws."""
        return self.shows in (TRAPPED, SECOND) or self.shut_in

    @property
    def loaded(self) -> bool:
        """Whether it must not be opened: a chamber still holds pressure, a damper may, or a coil is still wound up."""
        return self.charged or self.shows in _TAG_SAYS

    @property
    def tag_says(self) -> str:
        """What its black tag says, in a few words; "" where it wants none."""
        return _CHARGED if self.charged else _TAG_SAYS.get(self.shows, "")

    @property
    def grave(self) -> bool:
        """Whether it is told wherever its unit is named: it stops the work, is loaded, or hands or a rider hang on it."""
        return self.stops or self.loaded or self.hangs

    @property
    def short(self) -> str:
        """In a few words, as its tag says it: beside a name in a list."""
        number = self.entry.step_number
        if self.loaded:
            return self.tag_says
        return f"stopped at step {number}" if self.stops else f"step {number} not passed"

    @property
    def point(self) -> tuple[str, int]:
        """Step and round."""
        return _point(self.entry)

    def tested_by(self, procedure: str, step: Step) -> bool:
        """Whether a step of another job's procedure tests the same: its like, or one of ours that asks the same of a chamber."""
        like = step.key == self.entry.step_key and _tests_same(procedure, step, self.entry.procedure, self.step)
        return like or self.asked_by(procedure, step)

    def asked_by(self, procedure: str, step: Step) -> bool:
        """Whether another step of ours asks the same of a chamber, or proves empty what was looked for."""
        if step.key == self.entry.step_key or own.is_own(procedure):
            return False
        return bool(self.asked) and _asks_whether_empty(step) == self.asked or self.proved_by(procedure, step)

    def proved_by(self, procedure: str, step: Step) -> bool:
        """Whether a step of ours proves empty what was looked for and found: once the Book has it, no step looks for it any more."""
        return bool(self.proof) and not own.is_own(procedure) and step.has(self.proof)

    def tells_of(self, bike: int | None) -> bool:
        """Whether it is one of that bike, or of the unit alone wherever it stands."""
        return not self.of_bike or self.entry.job.bike_id in (None, bike)

    @property
    def told(self) -> str:
        """What is told of it beyond the bench: on the card, the sheet and among the defects."""
        return " ".join(part for part in (self.title.removeprefix("Stop. "), self.text) if part)


def of(job: Job) -> tuple[Danger, ...]:
    """What is dangerous on a job, in the order in which it was found."""
    entries = list(StepEntry.objects.filter(job=job, verdict__in=("passed", "failed", "struck")).order_by("sequence"))
    if not entries:
        return ()
    kept = texts.kept_of({entry.procedure_hash for entry in entries})
    rows = list(Reading.objects.filter(job=job).exclude(corrects=None).select_related("instrument"))
    return found(entries, readings.in_place(rows), kept, readings.corrections(rows))


def found(
    entries: Sequence[StepEntry],
    standing: Mapping[int, Reading],
    texts: Mapping[str, ProcedureText],
    corrected: Mapping[int, Reading],
) -> tuple[Danger, ...]:
    """The same of a job without a query: entries in order, the readings in place of others, the texts by SHA-256.

    `corrected` are those in place that mend one, and were not read again later: a leak hold hangs on its time.
    """
    return standing_of(judged(entries, standing, corrected), texts)


def judged(
    entries: Sequence[StepEntry], standing: Mapping[int, Reading], corrected: Mapping[int, Reading]
) -> list[tuple[StepEntry, bool]]:
    """A job's entries that failed or passed, and whether they failed.

    A pass that was struck lifts nothing; a failure that was struck stays one.
    """
    struck = {entry.evidence.get("strikes") for entry in entries if entry.verdict == "struck"}
    judged = [
        entry
        for entry in entries
        if entry.verdict == "failed" or entry.verdict == "passed" and entry.sequence not in struck
    ]
    # Read again at a step, a reading is judged by that newer entry; only a correction on the card speaks for the old one.
    signed = {row.get("reading") for entry in judged for row in entry.evidence.get("answers", {}).values()}
    on_card = {old: newer for old, newer in standing.items() if newer.pk not in signed}
    return [(entry, _failed(entry, on_card, corrected)) for entry in judged]


def standing_of(judged: Sequence[tuple[StepEntry, bool]], texts: Mapping[str, ProcedureText]) -> tuple[Danger, ...]:
    """What failed and was not passed since."""
    failed_at = {entry.step_key for entry, failed in judged if failed}
    if not failed_at:
        return ()
    known = steps_of({entry.procedure_hash for entry, _ in judged}, texts)
    open_: dict[_Point, Danger] = {}
    for entry, failed in judged:
        if failed:
            danger = _danger(entry, known)
            if danger is not None:
                point = (*danger.point, entry.job.bike_id if danger.of_bike else None)
                open_.pop(point, None)
                open_[point] = danger
            continue
        for point in _passes(entry, open_):
            if _same_point(open_[point].entry, entry, known):
                del open_[point]
        for point in _passes_by_another(entry, open_, known):
            del open_[point]
    return tuple(open_.values())


def _point(entry: StepEntry) -> tuple[str, int]:
    return entry.step_key, int(entry.evidence.get("round", 0))


def _passes_by_another(
    entry: StepEntry, open_: Mapping[_Point, Danger], known: Mapping[tuple[str, str], Step]
) -> list[_Point]:
    """Which of these points of earlier jobs an entry that passed lifts by asking the same of a chamber at another step.

    A job that has the failed point itself tests it there; what was looked for there is proved by a later step than the look.
    """
    step = known.get((entry.procedure_hash, entry.step_key))
    return [
        point
        for point, danger in open_.items()
        if step is not None
        and (
            danger.proved_by(entry.procedure, step)
            if danger.entry.job_id == entry.job_id
            else danger.asked_by(entry.procedure, step)
        )
    ]


def _passes(entry: StepEntry, open_: Mapping[_Point, Danger]) -> list[_Point]:
    """Which of these points an entry that passed lifts; what is looked at on the bike, at that bike alone."""
    key, round_ = _point(entry)
    last = round_ > 0 and round_ == entry.evidence.get("rounds")
    return [
        point
        for point, danger in open_.items()
        if point[0] == key
        and (point[1] == round_ or last)
        and (not danger.of_bike or point[2] == entry.job.bike_id)
        and (BY_READINGS not in entry.evidence or BY_READINGS in danger.entry.evidence)
    ]


def _same_point(failed: StepEntry, passed: StepEntry, known: Mapping[tuple[str, str], Step]) -> bool:
    """Whether a step that passed asks for what the one of the same key asked for that failed."""
    if passed.procedure_hash == failed.procedure_hash:
        return True
    step, before = (known.get((each.procedure_hash, each.step_key)) for each in (passed, failed))
    return _tests_same(passed.procedure, step, failed.procedure, before)


def _tests_same(procedure: str, step: Step | None, failed_by: str, before: Step | None) -> bool:
    """Whether a step of this procedure tests what failed `before`, by another one under the same key.

    Ours do by their key. In the workshop's own texts anybody may have written anything under it; a later version of the same
    one may mend a band, and asks for the same evidence all the same.
    """
    if not (own.is_own(procedure) or own.is_own(failed_by)):
        return True
    if step is None or not step.holds_back:
        return False
    if before is None:  # nobody knows what failed; what is taken in its place is a hold point
        return True
    versions = own.same_key(procedure, failed_by)
    asked = {each.key: each for each in step.evidence}
    return (step.stop.shows if step.stop else "") == (before.stop.shows if before.stop else "") and all(
        (now := asked.get(each.key)) is not None
        and (
            (now.kind, now.roles, now.bounded) == (each.kind, each.roles, True)
            if versions
            else _judged_by(now) == _judged_by(each)
        )
        for each in before.evidence
        if each.bounded
    )


def _judged_by(each: Evidence) -> tuple[Any, ...]:
    """What an answer is judged by."""
    return (
        each.kind,
        each.roles,
        each.optional,
        each.passes,
        each.expect,
        each.below,
        each.above,
        each.low,
        each.high,
        each.service,
    )


def _asks_whether_empty(step: Step) -> tuple[Any, ...]:
    """How a step asks whether a chamber is empty; () where it does not."""
    return tuple(
        _judged_by(each) for each in step.evidence if each.bounded and any(role in PROVES_EMPTY for role in each.roles)
    )


def _proof_of(step: Step) -> str:
    """The role that proves empty what a step looks for: of a second chamber its own, of any other the unit at rest."""
    return "second-out" if step.has("second-out") else "empty-at-rest"


def steps_kept(hashes: Collection[str]) -> dict[tuple[str, str], Step]:
    """The steps of those of these texts that are kept, by hash and key."""
    return steps_of(set(hashes), texts.kept_of(hashes))


def steps_of(hashes: set[str], texts: Mapping[str, ProcedureText]) -> dict[tuple[str, str], Step]:
    """The steps of the texts that were signed under, by hash and key; a text that is not kept, or not read, has none."""
    found: dict[tuple[str, str], Step] = {}
    for row in (texts[each] for each in hashes if each in texts):
        if library.digest(row.text) != row.sha256:
            continue
        try:
            known = read.pinned(row.procedure, row.text, variables.VOCABULARY)
        except TopoutError:
            continue
        found |= {(row.sha256, step.key): step for step in known.procedure.steps()}
    return found


def _failed(entry: StepEntry, on_card: Mapping[int, Reading], corrected: Mapping[int, Reading]) -> bool:
    """Whether an entry failed, or passed with a reading whose correction does not lie in the band it was judged by."""
    if entry.verdict == "failed":
        return True
    hold = leak_hold.again(entry.evidence.get("hold"), corrected)
    if hold is not None and hold.verdict == "leaks":
        return True
    answers: dict[str, dict[str, Any]] = entry.evidence.get("answers", {})
    for row in answers.values():
        newer = on_card.get(row.get("reading") or 0)
        if newer is not None and not _within(row, newer):
            return True
    return False


def _within(row: dict[str, Any], reading: Reading) -> bool:
    low, high, value = row.get("low_si"), row.get("high_si"), reading.value_si
    slack = _SLACK * max(1e-3, abs(value))
    return (low is None or value >= low - slack) and (high is None or value <= high + slack)


def _danger(entry: StepEntry, known: dict[tuple[str, str], Step]) -> Danger | None:
    """What an entry that failed says; None where its step is no hold point."""
    step = known.get((entry.procedure_hash, entry.step_key))
    said = str(entry.evidence.get("said", entry.step_key))
    if step is None:
        # The text is not kept, so nobody can say that it was no hold point.
        return Danger(entry, f"Step {entry.step_number} failed.", f"{said} Its text is not kept here.", True)
    if step.stop is not None:
        shut_in = any(step.has(role) for role in (*PROVES_EMPTY, LOOKED_FOR))
        asked = () if own.is_own(entry.procedure) else _asks_whether_empty(step)
        proof = "" if own.is_own(entry.procedure) or not step.has(LOOKED_FOR) else _proof_of(step)
        stop = step.stop
        return Danger(
            entry, stop.title, stop.text, True, stop.shows, shut_in=shut_in, asked=asked, proof=proof, step=step
        )
    if not step.holds_back:
        return None
    answers: dict[str, dict[str, Any]] = entry.evidence.get("answers", {})
    hold = leak_hold.again(entry.evidence.get("hold"), {})
    if hold is not None and hold.verdict == "leaks":
        leaks = f"The leak hold at step {entry.step_number} did not hold."
        return Danger(entry, leaks, hold.says, False, hangs=not step.may_skip, step=step)
    given = ", ".join(
        str(row.get("choice") or row.get("text") or "") for row in answers.values() if not row.get("pass")
    )
    return Danger(
        entry,
        f"Hold point at step {entry.step_number} did not pass.",
        f"{said} {given}.".replace(" .", ""),
        False,
        hangs=not step.may_skip,
        of_bike=any(step.has(role) for role in OF_BIKE),
        step=step,
    )
