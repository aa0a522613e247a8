"""Whether what is taken in as new is one of the units that nobody may open, or that lie open: under another name it would be one on which nothing stands.

It is asked while anything in the Book must not be opened, whoever brings it and whatever it is called: a name is no proof either way.
What lies open is asked for where this rider brought it, or one of the same name, or one who was erased: many a fork goes back open and never
comes again.
"""

from __future__ import annotations

from typing import Any

from django.db.models import Exists, F, OuterRef, Q

from topout.web.access.change import ChangeContext
from topout.web.book.models import Rider, Unit
from topout.web.jobs.core import unit_dangers, warned
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job, StepEntry
from topout.web.jobs.steps import laid_open

ANOTHER = "another"
_MOST_LETTERS = 500  # of a remark


class Asked:
    """The units that must not be opened, and what of a rider's lies open; and what is answered of them."""

    def __init__(self, whose: Rider | None = None, name: str = "") -> None:
        """`whose` is the rider, where one of the Book is chosen; else `name` is what is typed for a new one."""
        dangers = unit_dangers.loaded_anywhere()
        charged = Unit.objects.filter(pk__in=dangers).order_by(F("pk").desc()) if dangers else ()
        self.units = {str(unit.pk): unit for unit in charged}
        self._stands = {unit: f"job {each.entry.job.number} ({each.short})" for unit, each in dangers.items()}
        self.charged = len(self.units)
        for unit in _brought_by(whose, name.strip()):
            open_ = None if unit.pk in dangers else laid_open.lies(unit)
            if open_ is not None:
                self.units[str(unit.pk)] = unit
                how = "went back open" if open_.went_back else "lies open"
                self._stands[unit.pk] = f"job {open_.job.number} ({how})"

    @property
    def label(self) -> str:
        """What is asked."""
        if self.charged == len(self.units):
            return "Is it one of these, which nobody may open?"
        return "Is it one of these?" if self.charged else "Is it one of these, which lie open?"

    def choices(self) -> list[tuple[str, str]]:
        """Each of them by its name, its job and what stands on it, and that it is another one."""
        return [*((key, self._said(unit)) for key, unit in self.units.items()), (ANOTHER, "no, another one")]

    def lacks(self, unit: Unit | None, answer: str) -> str:
        """What is wrong with no answer, of a unit that no job knows yet; "" where nothing is."""
        if answer or not self.units or unit is not None and (str(unit.pk) in self.units or unit.jobs.exists()):
            return ""
        names = ", ".join(self._said(each) for each in list(self.units.values())[:3])
        more = f" and {len(self.units) - 3} more" if len(self.units) > 3 else ""
        start = "Not to be opened" if self.charged else "Open"
        return f"{start}: {names}{more}. Look whether it is one of these, and say so."

    def remark(self, doing: ChangeContext, job: Job) -> None:
        """Write down that it was said to be none of them."""
        start = "Said at the take-in: another one than "
        names = [self._said(each) for each in self.units.values()]
        while len(start) + len(", ".join(names)) > _MOST_LETTERS - 20:
            names.pop()
        more = f" and {len(self.units) - len(names)} more" if len(names) < len(self.units) else ""
        changes.remark(doing, job, "remark", f"{start}{', '.join(names)}{more}.")

    def _said(self, unit: Unit) -> str:
        return f"{unit} of {self._stands[unit.pk]}"

    def taken(self, data: dict[str, Any]) -> Unit | None:
        """The unit that the answer says it is; None where it says that it is another, or says nothing."""
        return self.units.get(str(data.get("is_charged") or ""))


def _brought_by(whose: Rider | None, name: str) -> list[Unit]:
    """What this rider brought or may bring; of one that is typed in, whoever has the same name, or was erased and has none any more."""
    riders = [whose] if whose is not None else Rider.objects.filter(name__iexact=name) if name else ()
    theirs = [unit for rider in riders for unit in warned.brought_by(rider).order_by("pk")]
    if whose is not None or not name:
        return theirs
    begun = Job.objects.filter(Exists(StepEntry.objects.filter(job=OuterRef("pk"))), rider__erased_at__isnull=False)
    not_fit = begun.filter(Q(releases=None) | Q(releases__fit_to_ride=False))
    return [*theirs, *Unit.objects.filter(pk__in=not_fit.values("unit")).order_by("pk")]
