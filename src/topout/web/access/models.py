"""Changes with their keys, the one-time start code, and how often a password was wrong."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Workshop(models.Model):
    """This workshop, one row: what holds for every job, and whether its database is the demo's.

    It changes through `preferences.save` alone, which writes each change down (`SettingChange`).
    """

    only = models.BooleanField(default=True, unique=True)
    name = models.CharField(max_length=80, default="Workshop")
    demo = models.BooleanField(default=False)
    demo_user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    altitude = models.CharField(max_length=40, default="0 m")
    time_zone = models.CharField(max_length=60, default="", blank=True)  # "Europe/…"; empty: this computer's
    pressure_unit = models.CharField(max_length=8, default="psi")  # what is shown first; the other stands beside it
    length_unit = models.CharField(max_length=8, default="mm")
    paper = models.CharField(max_length=12, default="a4")  # of the set-up sheet
    currency = models.CharField(max_length=8, default="", blank=True)
    started_at = models.DateTimeField()
    set_up_at = models.DateTimeField(null=True)  # the first questions were answered
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


class SettingChange(models.Model):
    """One setting of the workshop that became another: who, when, what it was, in words. Immutable."""

    at = models.DateTimeField()
    who = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    name = models.CharField(max_length=60)
    was = models.CharField(max_length=200, blank=True)
    became = models.CharField(max_length=200, blank=True)


class OneTimeCode(models.Model):
    """A one-time code with which a person sets a password of their own; only its hash is kept.

    Without a `user` it makes the first account. `made_by` is the owner who gave it out; None: the terminal.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    code_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    class Meta:
        db_table = "access_startcode"


class WrongTries(models.Model):
    """Wrong passwords in a row for one account, as seen from one known device, from one address, or from all addresses."""

    account_hash = models.CharField(max_length=64)
    device = models.CharField(max_length=60, default="", blank=True)
    tries = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["account_hash", "device"], name="one_count_per_device")]
