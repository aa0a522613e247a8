"""What is asked of a job and promised: the part that may change while it runs, at the take-in and on its own page."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from topout.web.access import preferences
from topout.web.access.change import writes
from topout.web.access.gate import person
from topout.web.book import history
from topout.web.choices import NamedRowField, PickField
from topout.web.days import WhenField
from topout.web.fields import WordsField
from topout.web.groups import Group, drawn, order
from topout.web.jobs.desk import offered
from topout.web.jobs.records import changes, own
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.open import job_of

ASKED = (("asked_title", "comes_back_from"), ("asked",), ("budget", "procedure"))
WHEN = Group("When", (("promised",),))
_AMOUNT = re.compile(r"[0-9]{1,6}(?:[.,][0-9]{1,2})?")


class TechnicianField(NamedRowField):
    """A person with an account, by name."""

    def label_from_instance(self, obj: User) -> str:
        return person(obj)


class ProcedureField(PickField):
    """One of the procedures; those that are not drawn for this unit are known too, so that they can be refused in words."""

    known: set[str] = set()

    def valid_value(self, value: Any) -> bool:
        return value in self.known or super().valid_value(value)


class AskedForm(forms.Form):
    """What is asked for and promised: the part of a job that may change while it runs."""

    must = "Needed: the work wanted, in a line and in the rider’s own words, and who does it. The rest may stay empty."
    groups: tuple[Group, ...] = (Group("Who", (("technician",),)), Group("What", ASKED), WHEN)

    def __init__(
        self, *args: Any, pinned: str | None = None, now: str = "", kind: str | None = None, **kwargs: Any
    ) -> None:
        """`pinned` is the procedure that stays; `now` the one that the job has, which it may keep; `kind` what the unit is, if known."""
        self.pinned, self.now, self.kind, self.offers = pinned, now, kind, offered.Offers()
        super().__init__(*args, **kwargs)
        field: Any = self.fields["procedure"]
        if pinned is not None:
            field.choices = [(pinned, offered.label(pinned))]
            field.help_text = "It stays: a step of it is signed."
        else:
            self.offer(kind)
        promised = self.fields["promised"].widget.attrs  # what is understood of it stands there while it is typed
        promised.update(
            {
                "hx-get": "/jobs/new/when/",
                "hx-trigger": "load, change, keyup changed delay:300ms",
                "hx-target": "#promised-said",
            }
        )
        self.order_fields(order(self.groups))

    def offer(self, kind: str | None) -> None:
        """Draw what a unit of this kind can have, and say what is left out. What is sent is looked at in `clean`."""
        field: Any = self.fields["procedure"]
        field.choices, field.help_text = self.offers.choices(kind), self.offers.left_out(kind)
        field.known = {each.name for each in self.offers.every}
        if self.now and self.now not in dict(field.choices):
            more = "; not offered any more" if own.is_own(self.now) and not self.offers.refusal(self.now, kind) else ""
            field.choices = [*field.choices, (self.now, offered.label(self.now) + more)]

    asked_title = WordsField(
        letters=120, label="Work wanted, in a line", missing="Say in a line what work is wanted.", help_text="“longer travel”, “lower-leg service”",
    )  # fmt: skip
    asked = WordsField(letters=2000, rows=4, label="In the rider’s own words", missing="Write what the rider asks for.")
    budget = WordsField(
        letters=200,
        label="Work up to",
        required=False,
        help_text="An amount that needs no call, 180; or what was agreed, in words.",
    )
    promised = WhenField(label="Promised for", required=False)
    technician = TechnicianField(
        label="Who does it", queryset=User.objects.filter(is_active=True), to_field_name="username",
        error_messages={"required": "Say who does it.", "invalid_choice": "Nobody here has that account."},
    )  # fmt: skip
    procedure = ProcedureField(
        label="Procedure", required=False,
        error_messages={"invalid_choice": "This procedure is not in the workshop."},
    )  # fmt: skip

    def clean_procedure(self) -> str:
        chosen = str(self.cleaned_data["procedure"])
        if self.pinned is not None and chosen != self.pinned:
            raise ValidationError("A step of its procedure is signed, so it stays.")
        return chosen

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        chosen = str(data.get("procedure", ""))
        why = self.offers.refusal(chosen, self.kind_kept(data)) if chosen not in (self.pinned, self.now) else ""
        if why:
            self.add_error("procedure", why)
        return data

    def kind_kept(self, data: dict[str, Any]) -> str | None:
        """What the job's unit is; None where nobody knows."""
        return self.kind

    def clean_budget(self) -> str:
        """A bare amount becomes the sentence that stands on the card."""
        text = str(self.cleaned_data["budget"]).strip()
        if not _AMOUNT.fullmatch(text):
            return text
        return f"Work up to {preferences.money(text.replace(',', '.'))} without a call."

    def asked_for(self) -> dict[str, Any]:
        """The fields of a job."""
        names = ("asked_title", "asked", "budget", "technician", "procedure")
        return {"promised_at": self.cleaned_data["promised"], **{name: self.cleaned_data[name] for name in names}}


def _pinned(job: Job) -> str | None:
    """The procedure that a job keeps, because a step of it is signed; None where it may still be changed."""
    return job.procedure if StepEntry.objects.filter(job=job).exists() else None


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def job_change(request: HttpRequest, number: int) -> HttpResponse:
    """Change what is asked or promised; what was found and done stays as it is."""
    job = job_of(request, number)
    kind = job.unit.kind if job.unit is not None else None
    if request.method == "POST":
        form = AskedForm(request.POST, pinned=_pinned(job), now=job.procedure, kind=kind)
        if history.to_save(request, form, job):
            for name, value in form.asked_for().items():
                setattr(job, name, value)
            changes.keep(request.change, job)  # type: ignore[attr-defined]
            messages.success(request, f"Job {job.number} is changed.")
            return redirect("job", job.number)
    else:
        form = AskedForm(pinned=_pinned(job), now=job.procedure, kind=kind, initial={
            "asked_title": job.asked_title, "asked": job.asked, "budget": job.budget, "technician": job.technician.username,
            "procedure": job.procedure, "promised": job.promised_at,
        })  # fmt: skip
    context = {
        "nav": "bench", "form": form, "job": job, "groups": drawn(form, form.groups), "heading": f"Change job {number}",
        "button": "Save the job", "as_of": history.stamp(job),
    }  # fmt: skip
    return render(request, "jobs/form.html", context, status=422 if form.errors else 200)
