"""Riders, bikes, units and families.

`tables` holds bench-file tables as they were typed: table name → key → text, `{"frame": {"head_angle": "66.2 deg"}}`;
numbers without a unit and whole tables in brackets are kept as TOML gives them. `bench_file.read` says what they mean.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from topout.web.book.kinds import EXTRAS, KINDS, UnitKind

UNIT_KINDS = {kind.key: kind.words for kind in KINDS.values()}


class Rider(models.Model):
    """A rider. Erasing blanks every field here; jobs and readings hold no name."""

    name = models.CharField(max_length=120, blank=True)
    phone = models.CharField(max_length=60, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(max_length=400, blank=True)
    tables = models.JSONField(default=dict)  # rider: mass, front_share
    worth = models.JSONField(default=dict)  # key of a table's value -> how it is known, a key of worth.WORTHS
    made_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True)
    erased_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["name", "id"], name="rider_by_name")]

    def __str__(self) -> str:
        return self.name or "a rider, erased"


class Family(models.Model):
    """The dimensions that all units of one model share; a unit's own tables stand before them."""

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=12, choices=list(UNIT_KINDS.items()), default="fork")
    tables = models.JSONField(default=dict)  # fork, fork.air, …
    source = models.CharField(max_length=300, blank=True)  # where the dimensions come from
    made_at = models.DateTimeField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "families"

    def __str__(self) -> str:
        return self.name


class Bike(models.Model):
    """A bike: frame and wheels."""

    rider = models.ForeignKey(Rider, on_delete=models.PROTECT, null=True, related_name="bikes")
    name = models.CharField(max_length=120)  # "Hollin hardtail, size L, 29 in"
    serial = models.CharField(max_length=80, blank=True)
    tables = models.JSONField(default=dict)  # bike, frame, front_wheel, rear_wheel
    worth = models.JSONField(default=dict)  # key of a table's value -> how it is known, a key of worth.WORTHS
    made_at = models.DateTimeField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["name", "id"], name="bike_by_name")]

    def __str__(self) -> str:
        return self.name


class Unit(models.Model):
    """A fork or a rear shock, as it is fitted. Where it stands is changed by `fitting.fit` alone."""

    bike = models.ForeignKey(Bike, on_delete=models.PROTECT, null=True, related_name="units")  # that it stands on now
    came_off = models.ForeignKey(Bike, on_delete=models.PROTECT, null=True, related_name="units_off")  # the one before
    stands_since = models.DateField(null=True)  # there, or on none, as somebody said; null: nobody did
    family = models.ForeignKey(Family, on_delete=models.PROTECT, null=True, related_name="units")
    kind = models.CharField(max_length=12, choices=list(UNIT_KINDS.items()), default="fork")
    name = models.CharField(max_length=120)  # "Quillon 35 fork"
    serial = models.CharField(max_length=80, blank=True)
    tables = models.JSONField(default=dict)  # fork, fork.air, shock, shock.air, …
    worth = models.JSONField(default=dict)  # key of a table's value -> how it is known, a key of worth.WORTHS
    extras = models.JSONField(default=dict)  # key of kinds.EXTRAS -> words or a whole number
    left = models.JSONField(
        default=dict
    )  # how the last job left it: job, at, next_service, hours, readings (kind -> words)
    far_in = models.JSONField(
        default=dict
    )  # key of a reading -> its job, day, words, gauge, and what was fitted when it was read; `far_in.py`
    made_at = models.DateTimeField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["name", "id"], name="unit_by_name")]

    def __str__(self) -> str:
        return self.name

    @property
    def what(self) -> UnitKind:
        """What kind of unit it is, with its tables and words."""
        return KINDS[self.kind]

    @property
    def says_kind(self) -> bool:
        """Whether its name says already what it is: “Sorrel rear shock”."""
        return self.name.lower().endswith(self.what.words)

    def known(self) -> list[tuple[str, str]]:
        """What is known beside the tables, label and words."""
        return [(extra.label, str(self.extras[extra.key])) for extra in EXTRAS[self.kind] if extra.key in self.extras]

    def last_left(self) -> dict[str, Any] | None:
        """How the last job left it, with its day as a date and its rows for the page; None where none did."""
        if not self.left:
            return None
        rows = [(kind.replace("-", " ").capitalize(), words) for kind, words in self.left["readings"].items()]
        if "hours" in self.left:
            rows.append(("Ride hours since the service before", str(self.left["hours"])))
        rows.append(("Next service", self.left["next_service"]))
        return {**self.left, "on": datetime.fromisoformat(self.left["at"]), "rows": rows}

    def whole_tables(self) -> dict[str, dict[str, Any]]:
        """The family's tables with the unit's own keys before them."""
        shared = self.family.tables if self.family else {}
        names = list(dict.fromkeys([*shared, *self.tables]))
        return {name: {**shared.get(name, {}), **self.tables.get(name, {})} for name in names}


class ServiceValue(models.Model):
    """One value of a maker's sheet, kept for a family. Never changed: a correction is a new row that points at the old one."""

    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="service_values")
    name = models.CharField(max_length=40)  # a key of procedures.service.FIELDS
    travel_mm = models.PositiveSmallIntegerField(default=0)  # of a value that goes by the travel; 0: it does not
    number = models.PositiveSmallIntegerField()  # 1, and one more with each correction
    text = models.CharField(max_length=200, blank=True)  # as typed, with its unit; "": taken out again
    value_si = models.FloatField(null=True)  # of a number
    unit = models.CharField(max_length=12, blank=True)
    source = models.CharField(max_length=200)  # which sheet
    read_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="replaced_by")
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["family", "name", "travel_mm", "number"]
        constraints = [
            models.UniqueConstraint(fields=["family", "name", "travel_mm", "number"], name="one_chain_a_value"),
            models.CheckConstraint(
                condition=models.Q(number=1, replaces=None)
                | (models.Q(number__gt=1) & ~models.Q(replaces=None) & ~models.Q(reason="")),
                name="service_correction_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.text}"
