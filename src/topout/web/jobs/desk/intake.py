"""The form of the take-in: a rider with a unit of theirs, found or new, and what speaks against taking it for one or the other."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Max, Q
from django.utils import timezone

from topout.web.access.change import ChangeContext
from topout.web.book import ends, fitting
from topout.web.book import keeping as book
from topout.web.book.kinds import KINDS
from topout.web.book.models import UNIT_KINDS, Bike, Rider, Unit
from topout.web.choices import NamedField, NamedRowField, PickField, Picks
from topout.web.fields import WordsField
from topout.web.groups import Group, order
from topout.web.jobs.core import warned
from topout.web.jobs.desk import same_again
from topout.web.jobs.desk.asked import ASKED, WHEN, AskedForm
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job


class UnitField(NamedRowField):
    """A unit of the rider that was found, with its bike and how the last job left it."""

    def label_from_instance(self, obj: Unit) -> str:
        left = (obj.left or {}).get("readings", {}).get("pressure", "")
        return " · ".join(filter(None, (obj.name, str(obj.bike or ""), f"left with {left}" if left else "")))


_DRAWN_ANEW = {
    "hx-get": "/jobs/new/procedures/", "hx-trigger": "change", "hx-target": "#id_procedure", "hx-select": "#id_procedure",
    "hx-swap": "outerHTML", "hx-sync": "closest form:replace",  # by arrows one comes past kinds: the last one’s answer stands
    "hx-include": "[name=rider],[name=unit],[name=unit_kind],[name=procedure]",
}  # fmt: skip


_OFF = [("off", "it is off the bike now")]


class IntakeForm(AskedForm):
    """A new job: a rider that was found, with a unit of theirs, or new ones by name."""

    must = "Needed: a rider, a fork or shock, the work wanted in a line and in the rider’s words, who does it."
    groups: tuple[Group, ...] = (
        Group("Who", (("rider",), ("rider_name", "rider_phone"), ("technician",))),
        Group("What", (("unit",), ("unit_name", "bike_name"), ("bike",), ("unit_kind",), ("instead",), ("is_charged",), *ASKED), "A bike may be left out."),
        WHEN,
    )  # fmt: skip
    of_the_book = (
        Group("Who", (("rider",), ("rider_name", "rider_phone"), ("technician",))),
        Group("What", (("unit",), *ASKED)),
        Group(
            "Another fork or shock",
            (("unit_name", "bike_name"), ("bike",), ("unit_kind",), ("instead",), ("is_charged",)),
            folded=True,
        ),
        WHEN,
    )
    rider = forms.ModelChoiceField(
        queryset=Rider.objects.filter(erased_at=None), required=False, widget=forms.HiddenInput,
        error_messages={"invalid_choice": "This rider is not in the Book."},
    )  # fmt: skip
    rider_name = WordsField(letters=120, label="A new rider’s name", required=False)
    rider_phone = WordsField(letters=60, label="A new rider’s telephone", required=False)
    bike = NamedRowField(
        label="A new fork or shock is on", queryset=Bike.objects.all(), required=False, empty_label="no bike, or a new one", widget=forms.HiddenInput,
        error_messages={"invalid_choice": "This bike is not in the Book."},
    )  # fmt: skip
    bike_name = WordsField(letters=120, label="A new bike", required=False)
    unit = UnitField(
        label="Which fork or shock", queryset=Unit.objects.select_related("bike"), required=False, empty_label="another one", widget=forms.HiddenInput,
        error_messages={"invalid_choice": "This unit is not in the Book."},
    )  # fmt: skip
    unit_name = WordsField(letters=120, label="A new fork or shock", required=False)
    unit_kind = PickField(
        label="The new one is a", choices=list(UNIT_KINDS.items()), initial="fork", required=False,
        error_messages={"invalid_choice": f"One of {', '.join(UNIT_KINDS.values())} is expected."},
    )  # fmt: skip
    instead = PickField(
        label="What stands there in the Book", choices=_OFF, required=False, widget=forms.HiddenInput
    )  # drawn where something does
    is_charged = NamedField(
        required=False, choices=[],
        error_messages={"invalid_choice": "None of these. Tap one, or that it is another."},
    )  # fmt: skip
    comes_back_from = WordsField(
        letters=9, label="Comes back from job", required=False, help_text="The number of the earlier job."
    )

    def __init__(self, *args: Any, whose: Rider | None = None, **kwargs: Any) -> None:
        """`whose`: the rider that was found; what is theirs is there to be tapped then, and nobody is asked for a new name."""
        super().__init__(*args, **kwargs)
        said = self.data if self.is_bound else self.initial
        rider = number(str(said.get("rider") or ""))
        found = Rider.objects.filter(pk=int(rider)).first() if rider else whose
        self.charged = same_again.Asked(found, str(said.get("rider_name") or ""))
        self.there: list[Unit] = []  # on the bike, where a new one goes
        if self.charged.units:
            self.fields["is_charged"].choices = self.charged.choices()  # type: ignore[attr-defined]
            self.fields["is_charged"].label = self.charged.label
        else:
            del self.fields["is_charged"]
        self._of_whose(whose)
        for name in ("unit", "unit_kind"):  # whatever is tapped, the procedures are drawn anew for it
            self.fields[name].widget.attrs.update(_DRAWN_ANEW)
        unit = str(said.get("unit") or "")
        known = self.fields["unit"].queryset.filter(pk=int(number(unit))).first() if number(unit) else None  # type: ignore[attr-defined]
        self.offer(known.kind if known else str(said.get("unit_kind") or "") or None)

    def kind_kept(self, data: dict[str, Any]) -> str | None:
        unit = data.get("unit")
        if unit is None and {"unit", "unit_kind"} & self.errors.keys():
            return None
        return str(unit.kind) if unit is not None else data["unit_kind"] or "fork"

    def _of_whose(self, whose: Rider | None) -> None:
        if whose is None:
            return
        fields: Any = self.fields
        if units_of(whose).exists():
            self.groups, fields["unit_kind"].initial = self.of_the_book, None
        fields["unit"].queryset = units_of(whose)
        fields["bike"].queryset = whose.bikes.all()
        for name in ("unit", "bike"):
            if fields[name].queryset.exists():
                fields[name].widget = Picks()
        for name in ("rider_name", "rider_phone"):
            fields[name].widget = forms.HiddenInput()
        self.order_fields(order(self.groups))

    def clean_comes_back_from(self) -> Job | None:
        text = str(self.cleaned_data["comes_back_from"])
        if not text:
            return None
        job = Job.objects.filter(number=int(text)).first() if text.isascii() and text.isdigit() else None
        if job is None:
            raise forms.ValidationError(f"“{text}”: the number of an earlier job is expected.")
        return job

    def clean(self) -> dict[str, Any]:
        is_one = self._is_one()
        data: dict[str, Any] = super().clean() or {}
        rider, bike, unit = data.get("rider"), data.get("bike"), data.get("unit")
        if is_one:
            self._same_unit(self._whose_it_is(data))
            return data
        if unit and bike is None and rider and unit in units_of(rider):
            bike = data["bike"] = unit.bike if unit.bike and unit.bike.rider_id == rider.pk else None
            if bike is None:
                self._same_unit(data)
                return self._one_of_each(data)  # it came loose before, and does so again
        self._one_of_each(data)
        self._whose_it_is(data)
        if bike and bike.rider_id != (rider.pk if rider else None):
            self.add_error("bike", f"{bike} belongs to {bike.rider or 'nobody'}. Choose that rider, or another bike.")
        if unit and unit.bike_id != (bike.pk if bike else None):
            self.add_error("unit", f"{unit} is fitted to {unit.bike or 'no bike'}. Choose that bike, or another unit.")
        if not unit and not data.get("unit_name") and not {"unit", "unit_name"} & self.errors.keys():
            self.add_error("unit_name", "Choose a fork or shock, or write what came in.")
        kind = str(data.get("unit_kind") or "fork")
        if bike and not unit and data.get("unit_name") and (there := ends.at_end(bike, KINDS[kind].noun)):
            self._instead_of(bike, there)
        self._same_unit(data)
        return data

    def _instead_of(self, bike: Bike, there: list[Unit]) -> None:
        """A new one on a bike on which another stands: the other is off it, or it is that one after all."""
        self.there = there
        if self.cleaned_data.get("instead"):
            return
        field: Any = self.fields["instead"]
        field.widget = Picks(choices=_OFF)
        self.add_error(
            "instead",
            f"{ends.taken(bike, there)} Say that it is off the bike, or choose it in place of a new one.",
        )

    def _is_one(self) -> bool:
        """Whether what is typed in as new is said to be a unit that stands charged or open in the Book: it is that one then, before all else.

        It comes in on its own bike where that is this rider's; else loose, as somebody else's bike is not here.
        """
        data = self.cleaned_data
        unit, answer = data.get("unit"), str(data.get("is_charged") or "")
        if (
            "unit" not in self.errors
            and "is_charged" not in self.errors
            and (lacks := self.charged.lacks(unit, answer))
        ):
            self.add_error("is_charged", lacks)
        taken = self.charged.taken(data)
        if taken is None or taken == unit:
            return False
        if unit is not None and unit.jobs.exists():
            self.add_error("is_charged", f"{unit} was here before, and is not {taken}. Choose one of the two.")
            return False
        theirs = taken.bike if taken.bike and data.get("rider") and taken.bike.rider == data["rider"] else None
        for name in ("bike", "bike_name"):
            if data.get(name) and data[name] != theirs:
                self.add_error(name, f"{taken} is fitted to {taken.bike or 'no bike'}. Leave the bike empty here.")
        data |= {"unit": taken, "unit_name": "", "bike": theirs}
        return True

    def _whose_it_is(self, data: dict[str, Any]) -> dict[str, Any]:
        if not data.get("rider") and not data.get("rider_name") and not {"rider", "rider_name"} & self.errors.keys():
            self.add_error("rider_name", "Choose a rider, or write a new one’s name.")
        return data

    def _same_unit(self, data: dict[str, Any]) -> None:
        """What comes back from a job that left its unit charged is that unit: under another one the danger would be nobody's."""
        earlier, unit = data.get("comes_back_from"), data.get("unit")
        left = earlier.unit if earlier is not None else None
        if earlier is None or left is None or left == unit or unit is None and "unit" in self.errors:
            return
        for danger in warned.told_of([left.pk]).get(left.pk, ())[:1]:
            said = f"Job {earlier.number} was about {left}, and there it stands: {danger.short}. Choose that unit; another one does not come back from it."
            self.add_error("comes_back_from", said)

    def _one_of_each(self, data: dict[str, Any]) -> dict[str, Any]:
        for name in ("rider", "bike", "unit"):
            if data.get(name) and data.get(f"{name}_name"):
                self.add_error(f"{name}_name", "One from the Book is chosen too. Keep one of the two.")
        return data

    def keep(self, doing: ChangeContext) -> Job:
        """The job, and what is new in the Book."""
        data = self.cleaned_data
        rider = data["rider"] or book.make_rider(doing, name=data["rider_name"], phone=data["rider_phone"])
        bike = data["bike"]
        if bike is None and data["bike_name"]:
            bike = book.make_bike(doing, rider=rider, name=data["bike_name"], tables={})
        new = {"name": data["unit_name"], "tables": {}, "kind": data["unit_kind"] or "fork"}
        today = timezone.localtime(doing.at).date() if self.there else None
        unit = data["unit"] or fitting.make(doing, bike, self.there, today, new)
        job = changes.take_in(
            doing, rider=rider, bike=bike, unit=unit, comes_back_from=data["comes_back_from"], **self.asked_for()
        )
        if data.get("is_charged") == same_again.ANOTHER:
            self.charged.remark(doing, job)
        return job


def units_of(rider: Rider) -> Any:
    """What a rider brought or may bring, the last job's first."""
    return (
        warned.brought_by(rider)
        .select_related("bike")
        .annotate(last=Max("jobs__number", filter=Q(jobs__rider=rider)))
        .order_by("-last", "pk")
    )


def number(wanted: str) -> str:
    """The digits of a key that an address or a form names, or nothing."""
    return wanted if wanted.isascii() and wanted.isdigit() and len(wanted) < 10 else ""
