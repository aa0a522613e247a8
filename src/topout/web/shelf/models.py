"""Tags, and parts as what they really are."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from topout.web.access.codes import grouped

PART_KINDS = {
    "air shaft": "air shaft", "volume spacer": "volume spacer", "seal": "seal", "ring": "retaining ring",
    "oil": "oil", "tyre": "tyre", "other": "other",
}  # fmt: skip


class Tag(models.Model):
    """A label's number: random, short, unique for good. A tag is never given again, so the row is never deleted."""

    code = models.CharField(max_length=12, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    unit = models.ForeignKey("book.Unit", on_delete=models.PROTECT, null=True, related_name="tags")
    job_number = models.PositiveIntegerField(null=True)  # the job it was made in; jobs stand above the shelf

    def __str__(self) -> str:
        return grouped(self.code)


class Part(models.Model):
    """A part as measured: what it really is, which need not be what is printed on it."""

    tag = models.OneToOneField(Tag, on_delete=models.PROTECT, null=True, related_name="part")
    kind = models.CharField(max_length=20, choices=list(PART_KINDS.items()))
    marking = models.CharField(max_length=120, blank=True)  # what is printed on it
    family = models.ForeignKey("book.Family", on_delete=models.PROTECT, null=True, related_name="parts")
    measured = models.JSONField(default=dict)  # "length": "342 mm", "diameter": "10 mm", "gives": "150 mm"
    state = models.CharField(max_length=200, blank=True)  # "face marked, not for use"
    place = models.CharField(max_length=80, blank=True)
    on_hand = models.PositiveIntegerField(default=1)
    note = models.TextField(max_length=1000, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["kind", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.marking}".strip()
