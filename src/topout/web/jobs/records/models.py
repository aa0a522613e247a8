"""The records of a job.

Reading, Photo, FrozenPlan, ProcedureText, OwnVersion, OwnSwitch, StepEntry, Remark and Release are never changed or
deleted: triggers in the database refuse (`triggers.py`). A correction is a new row that points at the old one. Order is by `sequence`, not by clock.
Names of riders stand only in the Book. People's text is kept as typed beside what was understood, in SI. Who signed
stands by account and by name, as the name was then: an account renamed later rewrites nothing.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from topout.web.access.gate import person

STAGES = {"as-found": "as found", "as-left": "as left", "step": "step"}
VERDICTS = {
    "started": "started", "passed": "passed", "failed": "failed", "stopped": "stopped, safe", "struck": "struck",
    "not-done": "not done", "not-known": "not known", "not-yet": "read, can’t be told yet",
}  # fmt: skip
REMARKS = {
    "waits": "waits for", "goes on": "goes on", "condition": "condition", "remark": "remark",
    "declined": "work declined", "stopped": "broken off", "stands": "stands",
}  # fmt: skip
_WHO = settings.AUTH_USER_MODEL


class Instrument(models.Model):
    """A gauge, tape, scale: what a reading was taken with. Class is per cent of span (EN 837-1), mark its division."""

    code = models.CharField(max_length=12, unique=True)  # "P2"
    kind = models.CharField(max_length=20)  # gauge, tape, caliper, scale, thermometer, torque wrench
    name = models.CharField(max_length=80)
    dimension = models.CharField(max_length=16)
    span = models.CharField(max_length=40, blank=True)  # "300 psi"
    mark = models.CharField(max_length=40, blank=True)  # "1 psi"
    accuracy_class_percent = models.FloatField(null=True)
    hose_volume = models.CharField(max_length=40, blank=True)  # "3 ml"
    # Until an owner says that what stands here is what stands on it, no hold point is judged with it.
    confirmed_at = models.DateTimeField(null=True)
    confirmed_by = models.ForeignKey(_WHO, on_delete=models.PROTECT, null=True, related_name="+")
    retired_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.name} {self.code}"


class Job(models.Model):
    """A job card. What is asked may change while it runs (history kept); what was found and done may not."""

    number = models.PositiveIntegerField(unique=True)
    rider = models.ForeignKey("book.Rider", on_delete=models.PROTECT, related_name="jobs")
    bike = models.ForeignKey("book.Bike", on_delete=models.PROTECT, null=True, related_name="jobs")
    unit = models.ForeignKey("book.Unit", on_delete=models.PROTECT, null=True, related_name="jobs")
    asked = models.TextField(max_length=2000)
    asked_title = models.CharField(max_length=120)  # "travel 140 → 150 mm"
    budget = models.CharField(max_length=200, blank=True)  # "call above 180"
    promised_at = models.DateTimeField(null=True)
    taken_in_at = models.DateTimeField()
    taken_in_by = models.ForeignKey(_WHO, on_delete=models.PROTECT, related_name="+")
    technician = models.ForeignKey(_WHO, on_delete=models.PROTECT, related_name="jobs")
    comes_back_from = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="come_backs")
    procedure = models.CharField(max_length=80, default="travel-change-by-air-shaft", blank=True)
    last_record = models.PositiveIntegerField(
        default=0
    )  # the sequence given last; `sequence.next_sequence` alone moves it
    history = HistoricalRecords(excluded_fields=["last_record"])

    class Meta:
        ordering = ["number"]

    @property
    def noun(self) -> str:
        """What the job is about, "fork" or "shock"; a job without a unit counts as a fork's."""
        return self.unit.what.noun if self.unit is not None else "fork"

    def __str__(self) -> str:
        return f"job {self.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """A row that is saved again leaves the counter alone: it may have moved on since this one was read."""
        if not self._state.adding and kwargs.get("update_fields") is None:
            kwargs["update_fields"] = [
                field.name for field in self._meta.concrete_fields if field.name not in ("id", "last_record")
            ]
        super().save(*args, **kwargs)


class OnTheBench(models.Model):
    """A job that is not handed over. The database keeps it (`triggers.py`), so that nobody looks through every job for the few."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, primary_key=True, related_name="on_the_bench")


class Counter(models.Model):
    """A number given out one after the other: `job` for job cards."""

    name = models.CharField(max_length=20, unique=True)
    last = models.PositiveIntegerField()


class Record(models.Model):
    """What every immutable row of a job carries."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="%(class)ss")
    sequence = models.PositiveIntegerField()  # within the job, over all kinds of record
    who = models.ForeignKey(_WHO, on_delete=models.PROTECT, related_name="+")
    who_name = models.CharField(
        max_length=310
    )  # as it was when this was signed; 150 letters each of the account's names
    at = models.DateTimeField()

    class Meta:
        abstract = True
        ordering = ["job", "sequence"]

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.who_name = self.who_name or person(self.who)
        super().save(*args, **kwargs)


class Reading(Record):
    """One reading: as typed, as understood, with what and how it was taken."""

    kind = models.CharField(max_length=40)  # a key of readings.KINDS, or a step's own
    stage = models.CharField(max_length=10, choices=list(STAGES.items()))
    text = models.CharField(max_length=80)  # "71 psi", "7"
    dimension = models.CharField(max_length=16, blank=True)  # "" for a count
    unit = models.CharField(max_length=12, blank=True)
    value_si = models.FloatField()  # as read; pressures gauge; a count as it is
    corrected_si = models.FloatField(null=True)  # pressure before the hose was pushed on
    hose_volume_m3 = models.FloatField(null=True)
    valve_volume_m3 = models.FloatField(null=True)  # the chamber the valve sees
    held_m = models.FloatField(null=True)  # of a gauge read with the fork held in: the travel it was held at
    start_si = models.FloatField(null=True)  # and what it showed at full extension before, pump on
    of_range = models.PositiveSmallIntegerField(null=True)  # clicks in all
    posture = models.CharField(max_length=20, blank=True)
    temperature_k = models.FloatField(null=True)
    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, null=True, related_name="+")
    note = models.CharField(max_length=300, blank=True)
    corrects = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="corrected_by")
    reason = models.CharField(max_length=300, blank=True)

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(fields=["job", "sequence"], name="reading_sequence"),
            models.CheckConstraint(
                condition=models.Q(corrects=None) | ~models.Q(reason=""), name="correction_has_a_reason"
            ),
        ]

    @property
    def counts_si(self) -> float:
        """What counts: as found the pressure before the hose was pushed on; as left what the gauge showed, for that stays in."""
        return self.value_si if self.corrected_si is None or self.stage == "as-left" else self.corrected_si


class Photo(Record):
    """One photo, drawn anew by us without its metadata; the file stands under its SHA-256."""

    sha256 = models.CharField(max_length=64)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    of = models.CharField(max_length=200)  # the words under it, and its alternative text
    step_key = models.CharField(max_length=80, blank=True)

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["job", "sequence"], name="photo_sequence")]


class FrozenPlan(Record):
    """A plan as it is used: the whole bench file, its results as JSON, and the version that computed them."""

    bench_file = models.TextField()
    results = models.JSONField()
    version = models.CharField(max_length=40)
    sentence = models.CharField(max_length=300)  # "Set 70 psi · 4.83 bar with one volume spacer."
    reason = models.CharField(max_length=500, blank=True, default="")  # of the owner, where something speaks against it

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["job", "sequence"], name="plan_sequence")]


class ProcedureText(models.Model):
    """The text of a procedure that jobs were begun with, or of a version of the workshop's own, kept for good under its
    SHA-256: a later file changes no job."""

    sha256 = models.CharField(max_length=64, unique=True)
    procedure = models.CharField(max_length=80)
    text = models.TextField()
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]


class OwnVersion(models.Model):
    """A version of a procedure of the workshop's own, kept for good: another text is another version, a job names its one."""

    key = models.CharField(max_length=40)
    version = models.PositiveIntegerField()  # the text's own
    title = models.CharField(max_length=60)
    source = models.TextField()  # as it was given
    # Whole: with the groups of ours that it includes behind it. Its `procedure` is what a job's card says.
    text = models.OneToOneField(ProcedureText, on_delete=models.PROTECT, related_name="version")
    who = models.ForeignKey(_WHO, on_delete=models.PROTECT, related_name="+")
    who_name = models.CharField(max_length=310)
    at = models.DateTimeField()

    class Meta:
        ordering = ["key", "version"]
        constraints = [models.UniqueConstraint(fields=["key", "version"], name="one_text_a_version")]

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.who_name = self.who_name or person(self.who)
        super().save(*args, **kwargs)

    def __str__(self) -> str:
        return f"{self.title}, version {self.version}"


class OwnSwitch(models.Model):
    """A procedure of the workshop's own is offered no more, or again; the newest row of a key says which."""

    key = models.CharField(max_length=40)
    sequence = models.PositiveIntegerField()  # among the switches of the key
    offered = models.BooleanField()
    who = models.ForeignKey(_WHO, on_delete=models.PROTECT, related_name="+")
    who_name = models.CharField(max_length=310)
    at = models.DateTimeField()

    class Meta:
        ordering = ["key", "sequence"]
        constraints = [models.UniqueConstraint(fields=["key", "sequence"], name="own_switch_sequence")]

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.who_name = self.who_name or person(self.who)
        super().save(*args, **kwargs)


class StepEntry(Record):
    """One thing that happened at one step of a procedure. Append only; the state of a job follows from its entries."""

    procedure = models.CharField(max_length=80)
    procedure_hash = models.CharField(max_length=64)  # of a ProcedureText: what the job is walked by
    step_key = models.CharField(max_length=80)
    step_number = models.PositiveSmallIntegerField(default=0)
    verdict = models.CharField(max_length=10, choices=list(VERDICTS.items()))
    evidence = models.JSONField(default=dict)
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, null=True, related_name="step_entries")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, related_name="step_entries")
    plan = models.ForeignKey(FrozenPlan, on_delete=models.PROTECT, null=True, related_name="step_entries")
    active_seconds = models.PositiveIntegerField(default=0, validators=[MaxValueValidator(12 * 3600)])

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["job", "sequence"], name="step_sequence")]
        indexes = [  # few of all: what must not be opened is asked of the whole workshop
            models.Index(fields=["verdict"], condition=models.Q(verdict="failed"), name="step_failed")
        ]
        verbose_name_plural = "step entries"


class StepsShown(models.Model):
    """How a person wants the steps: one on a page, or a group's reversible ones together. No record: it may change."""

    who = models.OneToOneField(_WHO, on_delete=models.CASCADE, related_name="steps_shown")
    one_a_page = models.BooleanField(default=False)


class Remark(Record):
    """Words on a job: what it waits for, that it goes on, its condition, work declined, where its unit stands."""

    kind = models.CharField(max_length=12, choices=list(REMARKS.items()))
    words = models.CharField(max_length=500)

    class Meta(Record.Meta):
        constraints = [models.UniqueConstraint(fields=["job", "sequence"], name="remark_sequence")]


class Release(Record):
    """The hand-over: what was found, what was done, what is left, the defects told, the next service."""

    found = models.TextField(max_length=4000)
    done = models.TextField(max_length=4000)
    left = models.TextField(max_length=4000)
    defects = models.JSONField(default=list)  # sentences; empty: fit to ride without any
    next_service = models.CharField(max_length=200)
    fit_to_ride = models.BooleanField()
    plan = models.ForeignKey(FrozenPlan, on_delete=models.PROTECT, null=True, related_name="+")
    contradictions = models.JSONField(default=list)  # sentences that an owner handed it over with
    reason = models.CharField(max_length=500, blank=True)  # the owner's, where there are any

    class Meta(Record.Meta):
        constraints = [
            models.UniqueConstraint(fields=["job"], name="one_release_a_job"),
            models.UniqueConstraint(fields=["job", "sequence"], name="release_sequence"),
        ]


class ReleasedSheet(models.Model):
    """The set-up sheet of a release, byte for byte. Never changed; it names the rider, so it goes when the rider is erased."""

    release = models.OneToOneField(Release, on_delete=models.PROTECT, related_name="sheet")
    pdf = models.BinaryField()


class RiderNotes(models.Model):
    """What the rider is told at the hand-over, on the sheet. Words about a person: they go when the rider is erased."""

    release = models.OneToOneField(Release, on_delete=models.PROTECT, related_name="notes")
    words = models.TextField(max_length=1000)


class Draft(models.Model):
    """What is typed and not yet sent. May change, and goes when it is sent."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, null=True, related_name="drafts")  # null: a job to come
    place = models.CharField(max_length=120)  # "step:measure-ring:0", "plan", "readings:as-left", "take-in:3"
    who = models.ForeignKey(_WHO, on_delete=models.PROTECT, related_name="+")
    fields = models.JSONField(default=dict)
    at = models.DateTimeField()
    units = models.CharField(
        max_length=8, blank=True, default=""
    )  # that stood beside its boxes; "": nobody wrote it down
    lost = False  # whether figures of other units than today's were left out as it was read

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["job", "place"], name="one_draft_a_place"),
            # To a database no two nulls are one, so what belongs to no job yet needs its own line.
            models.UniqueConstraint(fields=["place"], condition=models.Q(job=None), name="one_draft_a_place_of_no_job"),
        ]


IMMUTABLE = (Reading, Photo, FrozenPlan, StepEntry, Remark, Release)  # the records of a job; triggers.py keeps more
