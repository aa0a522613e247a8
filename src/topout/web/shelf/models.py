"""Tags, and parts as what they really are."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from topout.web.access.codes import grouped

PART_KINDS = {
    "air shaft": "air shaft", "volume spacer": "volume spacer", "coil": "coil spring", "seal": "seal", "ring": "retaining ring",
    "oil": "oil", "tyre": "tyre", "stroke reducer": "stroke reducer", "other": "other",
}  # fmt: skip


# How a measure is called where another word than its key is said.
_MEASURED = {"bore": "for a bore of", "gives": "travel", "bind": "coils touch at", "reduces": "takes off"}


class Tag(models.Model):
    """A label's number: random, short, unique for good. A tag is never given again, so the row is never deleted."""

    code = models.CharField(max_length=12, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    unit = models.ForeignKey("book.Unit", on_delete=models.PROTECT, null=True, related_name="tags")
    job_number = models.PositiveIntegerField(null=True)  # the job it was made in; jobs stand above the shelf

    def __str__(self) -> str:
        return grouped(self.code)


class TagPrint(models.Model):
    """That a tag was asked for, for the printer: by whom, when, and what it said then. Whether the printer did it nobody knows. Immutable."""

    tag = models.ForeignKey(Tag, on_delete=models.PROTECT, related_name="prints")
    number = models.PositiveIntegerField()  # among the prints of the tag
    who = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    who_name = models.CharField(max_length=310)  # as it was then
    at = models.DateTimeField()
    words = models.TextField(max_length=1000)
    stop = models.BooleanField()  # the black one: not to be opened

    class Meta:
        ordering = ["tag", "number"]
        constraints = [models.UniqueConstraint(fields=["tag", "number"], name="tag_print_number")]


class Part(models.Model):
    """A part as measured: what it really is, which need not be what is printed on it."""

    tag = models.OneToOneField(Tag, on_delete=models.PROTECT, null=True, related_name="part")
    kind = models.CharField(max_length=20, choices=list(PART_KINDS.items()))
    marking = models.CharField(max_length=120, blank=True)  # what is printed on it
    family = models.ForeignKey("book.Family", on_delete=models.PROTECT, null=True, related_name="parts")
    # "length": "342 mm", "diameter": "10 mm", "gives": "150 mm", "bore": "34.6 mm"; a tyre has a "height", a coil a "rate"
    measured = models.JSONField(default=dict)
    state = models.CharField(max_length=200, blank=True)  # "face marked, not for use"
    place = models.CharField(max_length=80, blank=True)
    on_hand = models.PositiveIntegerField(default=1)
    cost = models.DecimalField(max_digits=9, decimal_places=2, null=True)  # of one, in the workshop's currency
    waiting_days = models.PositiveSmallIntegerField(null=True)  # until more are there, where it can be had
    note = models.TextField(max_length=1000, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField(null=True)
    changed_by = models.CharField(max_length=150, blank=True, default="")  # by name, as it was then

    class Meta:
        ordering = ["kind", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.marking}".strip()

    def known(self) -> list[tuple[str, str]]:
        """What was measured, each with its words: a tyre has no bore, it goes on a wheel."""
        words = _MEASURED | ({"bore": "for a wheel of"} if self.kind == "tyre" else {})
        return [(words.get(name, name), text) for name, text in self.measured.items()]
