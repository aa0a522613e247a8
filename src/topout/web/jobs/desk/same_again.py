"""Whether what is taken in as new is one of the units that nobody may open: typed in under another name it would be one on which nothing stands.

It is asked while anything in the Book must not be opened, whoever brings it and whatever it is called: a name is no proof either way.
"""

from __future__ import annotations

from typing import Any

from django.db.models import F

from topout.web.access.change import ChangeContext
from topout.web.book.models import Unit
from topout.web.jobs.core import unit_dangers
from topout.web.jobs.records import changes
from topout.web.jobs.records.models import Job

ANOTHER = "another"
_MOST_LETTERS = 500  # of a remark


class Asked:
    """The units that must not be opened, and what is answered of them."""

    def __init__(self) -> None:
        self.dangers = unit_dangers.loaded_anywhere()
        units = Unit.objects.filter(pk__in=self.dangers).order_by(F("pk").desc()) if self.dangers else ()
        self.units = {str(unit.pk): unit for unit in units}

    def choices(self) -> list[tuple[str, str]]:
        """Each of them by its name, its job and what stands on it, and that it is another one."""
        return [*((key, self._said(unit)) for key, unit in self.units.items()), (ANOTHER, "no, another one")]

    def lacks(self, unit: Unit | None, answer: str) -> str:
        """What is wrong with no answer, of a unit that no job knows yet; "" where nothing is."""
        if answer or not self.units or unit is not None and (str(unit.pk) in self.units or unit.jobs.exists()):
            return ""
        names = ", ".join(self._said(each) for each in list(self.units.values())[:3])
        more = f" and {len(self.units) - 3} more" if len(self.units) > 3 else ""
        return f"Not to be opened: {names}{more}. Look whether it is one of these, and say so."

    def remark(self, doing: ChangeContext, job: Job) -> None:
        """Write down that it was said to be none of them."""
        start = "Said at the take-in: another one than "
        names = [self._said(each) for each in self.units.values()]
        while len(start) + len(", ".join(names)) > _MOST_LETTERS - 20:
            names.pop()
        more = f" and {len(self.units) - len(names)} more" if len(names) < len(self.units) else ""
        changes.remark(doing, job, "remark", f"{start}{', '.join(names)}{more}.")

    def _said(self, unit: Unit) -> str:
        found = self.dangers[unit.pk]
        return f"{unit} of job {found.entry.job.number} ({found.short})"

    def taken(self, data: dict[str, Any]) -> Unit | None:
        """The unit that the answer says it is; None where it says that it is another, or says nothing."""
        return self.units.get(str(data.get("is_charged") or ""))
