"""Taking in a job: rider, bike, unit, what is asked, what is promised."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib import messages
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from topout.procedures import library
from topout.web.access.change import Doing, writes
from topout.web.access.gate import person
from topout.web.book import keeping as book
from topout.web.book.models import UNIT_KINDS, Bike, Rider, Unit
from topout.web.days import EXAMPLE_TIME, DayField, TimeOfDayField, read_time
from topout.web.fields import WordsField
from topout.web.groups import Group, drawn, order
from topout.web.jobs.records import changes, drafts, own
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.records.open import job_of

if TYPE_CHECKING:
    _ChoiceOfUser = forms.ModelChoiceField[User]
else:
    _ChoiceOfUser = forms.ModelChoiceField


def procedures() -> list[tuple[str, str]]:
    """What may be chosen: every procedure that comes with the tool, the workshop's own that are switched on, or none."""
    named = sorted(library.titles().items(), key=lambda each: each[1])
    ours = [(key, title[0].lower() + title[1:]) for key, title in named]
    theirs = [(row.text.procedure, own.said(row)) for row in own.offered()]
    return [("", "none; the work as asked"), *ours, *theirs]


def _label(name: str) -> str:
    """A procedure that a job has, in words, whether it is offered still or not."""
    row = own.named(name)
    return own.said(row) if row is not None else dict(procedures()).get(name, name)


class TechnicianField(_ChoiceOfUser):
    """A person with an account, by name."""

    def label_from_instance(self, obj: User) -> str:
        return person(obj)


_ASKED = (("asked_title", "comes_back_from"), ("asked",), ("budget", "procedure"))
_WHEN = Group("When", (("promised_on", "promised_time"),))


class AskedForm(forms.Form):
    """What is asked for and promised: the part of a job that may change while it runs."""

    must = "Needed: the work wanted, in a line and in the rider’s own words, and who does it. The rest may stay empty."
    groups: tuple[Group, ...] = (Group("Who", (("technician",),)), Group("What", _ASKED), _WHEN)

    def __init__(self, *args: Any, pinned: str | None = None, now: str = "", **kwargs: Any) -> None:
        """`pinned` is the procedure that stays; `now` the one that the job has, which it may keep."""
        self.pinned = pinned
        super().__init__(*args, **kwargs)
        field: Any = self.fields["procedure"]
        if pinned is not None:
            field.choices = [(pinned, _label(pinned))]
            field.help_text = "It stays: a step of it is signed."
        elif own.is_own(now) and now not in dict(field.choices):
            field.choices = [*field.choices, (now, f"{_label(now)}; not offered any more")]
        self.order_fields(order(self.groups))

    asked_title = WordsField(
        letters=120, label="Work wanted, in a line", missing="Say in a line what work is wanted.", help_text="“travel 140 → 150 mm”",
    )  # fmt: skip
    asked = WordsField(letters=2000, rows=4, label="In the rider’s own words", missing="Write what the rider asks for.")
    budget = WordsField(letters=200, label="Money", required=False, help_text="“No spending above 180 without a call.”")
    promised_on = DayField(label="Promised on", required=False)
    promised_time = TimeOfDayField(label="Promised at", required=False)
    technician = TechnicianField(
        label="Who does it", queryset=User.objects.filter(is_active=True), empty_label=None, to_field_name="username",
        error_messages={"required": "Say who does it.", "invalid_choice": "Nobody here has that account."},
    )  # fmt: skip
    procedure = forms.ChoiceField(
        label="Procedure", choices=procedures, required=False,
        error_messages={"invalid_choice": "This procedure is not in the workshop."},
    )  # fmt: skip

    def clean_procedure(self) -> str:
        chosen = str(self.cleaned_data["procedure"])
        if self.pinned is not None and chosen != self.pinned:
            raise ValidationError("A step of its procedure is signed, so it stays.")
        return chosen

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("promised_time") and not data.get("promised_on") and "promised_on" not in self.errors:
            self.add_error("promised_on", "Write the day too, or leave the time out.")
        return data

    def asked_for(self) -> dict[str, Any]:
        """The fields of a job."""
        data = self.cleaned_data
        promised = None
        if data["promised_on"]:
            at = data["promised_time"] or read_time(EXAMPLE_TIME)
            promised = timezone.make_aware(datetime.combine(data["promised_on"], at))
        names = ("asked_title", "asked", "budget", "technician", "procedure")
        return {"promised_at": promised, **{name: data[name] for name in names}}


class IntakeForm(AskedForm):
    """A new job: a rider, bike and unit of the Book, or new ones by name."""

    must = "Needed: a rider, a unit, the work wanted, who does it. The rest may stay empty."
    groups = (
        Group("Who", (("rider", "rider_name"), ("rider_phone", "technician")), "A rider of the Book, or a new one by name."),
        Group(
            "What", (("bike", "bike_name"), ("unit", "unit_name"), ("unit_kind",), *_ASKED),
            "A bike may be left out. A unit is of the Book, or a new one by name.",
        ),
        _WHEN,
    )  # fmt: skip
    rider = forms.ModelChoiceField(
        label="Rider", queryset=Rider.objects.filter(erased_at=None), required=False, empty_label="a new one",
        error_messages={"invalid_choice": "This rider is not in the Book."},
    )  # fmt: skip
    rider_name = WordsField(letters=120, label="or a new rider’s name", required=False)
    rider_phone = WordsField(letters=60, label="A new rider’s telephone", required=False)
    bike = forms.ModelChoiceField(
        label="Bike", queryset=Bike.objects.select_related("rider"), required=False, empty_label="none, or a new one",
        error_messages={"invalid_choice": "This bike is not in the Book."},
    )  # fmt: skip
    bike_name = WordsField(letters=120, label="or a new bike", required=False)
    unit = forms.ModelChoiceField(
        label="Unit", queryset=Unit.objects.select_related("bike"), required=False, empty_label="none, or a new one",
        error_messages={"invalid_choice": "This unit is not in the Book."},
    )  # fmt: skip
    unit_name = WordsField(letters=120, label="or a new unit", required=False)
    unit_kind = forms.ChoiceField(
        label="A new unit is a", choices=list(UNIT_KINDS.items()), initial="fork", required=False,
        error_messages={"invalid_choice": f"One of {', '.join(UNIT_KINDS.values())} is expected."},
    )  # fmt: skip
    comes_back_from = WordsField(
        letters=9, label="Comes back from job", required=False, help_text="The number of the earlier job."
    )

    def clean_comes_back_from(self) -> Job | None:
        text = str(self.cleaned_data["comes_back_from"])
        if not text:
            return None
        job = Job.objects.filter(number=int(text)).first() if text.isascii() and text.isdigit() else None
        if job is None:
            raise forms.ValidationError(f"“{text}”: the number of an earlier job is expected.")
        return job

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        rider, bike, unit = data.get("rider"), data.get("bike"), data.get("unit")
        for name in ("rider", "bike", "unit"):
            if data.get(name) and data.get(f"{name}_name"):
                self.add_error(f"{name}_name", "One from the Book is chosen too. Keep one of the two.")
        if not rider and not data.get("rider_name") and not {"rider", "rider_name"} & self.errors.keys():
            self.add_error("rider_name", "Choose a rider, or write a new one’s name.")
        if bike and bike.rider_id != (rider.pk if rider else None):
            self.add_error("bike", f"{bike} belongs to {bike.rider or 'nobody'}. Choose that rider, or another bike.")
        if unit and unit.bike_id != (bike.pk if bike else None):
            self.add_error("unit", f"{unit} is fitted to {unit.bike or 'no bike'}. Choose that bike, or another unit.")
        if not unit and not data.get("unit_name") and not {"unit", "unit_name"} & self.errors.keys():
            self.add_error("unit_name", "Choose a unit, or write what came in.")
        return data

    def keep(self, doing: Doing) -> Job:
        """The job, and what is new in the Book."""
        data = self.cleaned_data
        rider = data["rider"] or book.make_rider(doing, name=data["rider_name"], phone=data["rider_phone"])
        bike = data["bike"]
        if bike is None and data["bike_name"]:
            bike = book.make_bike(doing, rider=rider, name=data["bike_name"], tables={})
        unit = data["unit"] or book.make_unit(
            doing, bike=bike, name=data["unit_name"], tables={}, kind=data["unit_kind"] or "fork"
        )
        return changes.take_in(
            doing, rider=rider, bike=bike, unit=unit, comes_back_from=data["comes_back_from"], **self.asked_for()
        )


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def job_new(request: HttpRequest) -> HttpResponse:
    """The intake form."""
    place, draft = _place(request), None
    if request.method == "POST":
        form = IntakeForm(request.POST)
        if form.is_valid():
            job = form.keep(request.change)  # type: ignore[attr-defined]
            drafts.gone(None, place)
            messages.success(request, f"Job {job.number} is taken in.")
            return redirect("job", job.number)
    else:
        draft = drafts.find(None, place)
        form = IntakeForm(initial={**_initial(request), **(draft.fields if draft else {})})
    context = {
        "nav": "bench", "form": form, "groups": drawn(form, form.groups), "heading": "Take in a job", "button": "Take it in",
        "draft": draft, "draft_place": _with_rider("job-new-draft", request),
    }  # fmt: skip
    return render(request, "jobs/form.html", context, status=422 if form.errors else 200)


@require_POST
def job_new_draft(request: HttpRequest) -> HttpResponse:
    """Keep what is typed of a job to come: each person has one, and one more for each rider it was begun from."""
    form = IntakeForm(initial=_initial(request))
    with drafts.typing(request) as doing:
        return drafts.take(request, doing, None, _place(request), form, _with_rider("job-new", request))


def _rider(request: HttpRequest) -> str:
    """The rider's number that the address names, or nothing."""
    wanted = request.GET.get("rider", "")
    return wanted if wanted.isascii() and wanted.isdigit() and len(wanted) < 10 else ""


def _place(request: HttpRequest) -> str:
    return f"take-in:{request.user.pk}:{_rider(request)}"


def _with_rider(name: str, request: HttpRequest) -> str:
    rider = _rider(request)
    return reverse(name) + (f"?rider={rider}" if rider else "")


def _initial(request: HttpRequest) -> dict[str, Any]:
    initial: dict[str, Any] = {"technician": request.user.get_username()}
    if _rider(request):
        initial["rider"] = int(_rider(request))
    return initial


def _pinned(job: Job) -> str | None:
    """The procedure that a job keeps, because a step of it is signed; None where it may still be changed."""
    return job.procedure if StepEntry.objects.filter(job=job).exists() else None


@require_http_methods(["GET", "HEAD", "POST"])
@writes
def job_change(request: HttpRequest, number: int) -> HttpResponse:
    """Change what is asked or promised; what was found and done stays as it is."""
    job = job_of(request, number)
    if request.method == "POST":
        form = AskedForm(request.POST, pinned=_pinned(job), now=job.procedure)
        if form.is_valid():
            for name, value in form.asked_for().items():
                setattr(job, name, value)
            changes.keep(request.change, job)  # type: ignore[attr-defined]
            messages.success(request, f"Job {job.number} is changed.")
            return redirect("job", job.number)
    else:
        promised = timezone.localtime(job.promised_at) if job.promised_at else None
        form = AskedForm(pinned=_pinned(job), now=job.procedure, initial={
            "asked_title": job.asked_title, "asked": job.asked, "budget": job.budget, "technician": job.technician.username,
            "procedure": job.procedure, "promised_on": promised.date() if promised else None,
            "promised_time": promised.time() if promised else None,
        })  # fmt: skip
    context = {
        "nav": "bench", "form": form, "job": job, "groups": drawn(form, form.groups), "heading": f"Change job {number}",
        "button": "Save the job",
    }  # fmt: skip
    return render(request, "jobs/form.html", context, status=422 if form.errors else 200)
