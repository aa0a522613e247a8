"""Riders, bikes, units and families.

`tables` holds bench-file tables as they were typed: table name → key → text, `{"frame": {"head_angle": "66.2 deg"}}`;
numbers without a unit and whole tables in brackets are kept as TOML gives them. `bench_file.read` says what they mean.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

UNIT_KINDS = {"fork": "fork", "shock": "rear shock"}


class Rider(models.Model):
    """A rider. Erasing blanks every field here; jobs and readings hold no name."""

    name = models.CharField(max_length=120, blank=True)
    phone = models.CharField(max_length=60, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(max_length=400, blank=True)
    tables = models.JSONField(default=dict)  # rider: mass, front_share
    made_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True)
    erased_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name or "a rider, erased"


class Family(models.Model):
    """The dimensions that all units of one model share; a unit's own tables stand before them."""

    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=8, choices=list(UNIT_KINDS.items()), default="fork")
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
    made_at = models.DateTimeField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Unit(models.Model):
    """A fork or a rear shock, as it is fitted."""

    bike = models.ForeignKey(Bike, on_delete=models.PROTECT, null=True, related_name="units")
    family = models.ForeignKey(Family, on_delete=models.PROTECT, null=True, related_name="units")
    kind = models.CharField(max_length=8, choices=list(UNIT_KINDS.items()), default="fork")
    name = models.CharField(max_length=120)  # "Quillon 35 fork"
    serial = models.CharField(max_length=80, blank=True)
    tables = models.JSONField(default=dict)  # fork, fork.air, fork.lower_legs, …
    made_at = models.DateTimeField()
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    def whole_tables(self) -> dict[str, dict[str, Any]]:
        """The family's tables with the unit's own keys before them."""
        shared = self.family.tables if self.family else {}
        names = list(dict.fromkeys([*shared, *self.tables]))
        return {name: {**shared.get(name, {}), **self.tables.get(name, {})} for name in names}
