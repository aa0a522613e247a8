"""Changes with their keys, the one-time start code, and how often a password was wrong."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Workshop(models.Model):
    """This workshop, one row: its name, and whether its database is the demo's."""

    only = models.BooleanField(default=True, unique=True)
    name = models.CharField(max_length=80, default="Workshop")
    demo = models.BooleanField(default=False)
    demo_user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    altitude = models.CharField(max_length=40, default="0 m")
    started_at = models.DateTimeField()
    label_width_mm = models.FloatField(null=True)  # of the label in the printer, across the roll
    label_length_mm = models.FloatField(null=True)  # along the roll

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(label_width_mm=None, label_length_mm=None)
                | models.Q(label_width_mm__gt=0, label_length_mm__gt=0),
                name="label_has_both_sides",
            )
        ]


class Change(models.Model):
    """One change of state: its key, who, the one time, and a fingerprint of what was sent. Immutable.

    It is written before what it asks for is done, so that of two with one key the database lets one begin.
    """

    key = models.CharField(max_length=80, unique=True)
    fingerprint = models.CharField(max_length=64)
    what = models.CharField(max_length=120)
    who = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()


class Answer(models.Model):
    """What a change was answered with: the address that it led to. Written when it is done; given again to a repeat. Immutable."""

    change = models.OneToOneField(Change, on_delete=models.PROTECT, related_name="answer")
    location = models.CharField(max_length=500, default="", blank=True)


class StartCode(models.Model):
    """The one-time code that makes the first account; only its hash is kept."""

    code_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)


class WrongTries(models.Model):
    """Wrong passwords in a row, for one account as seen from one known device or from any other."""

    account_hash = models.CharField(max_length=64)
    device = models.CharField(max_length=40, default="", blank=True)
    tries = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["account_hash", "device"], name="one_count_per_device")]
