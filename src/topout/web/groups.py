"""A long form in groups: each with a title in the margin, its boxes in rows of one or two, in the order they are read.

The order of the rows is the order of the form's fields too, so that the keyboard, the eye and the list of faults agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField


@dataclass(frozen=True)
class Group:
    """Some boxes under a title. A row holds one or two names; `says` is a line above the boxes.

    A folded group opens where something stands in it, or a fault does. A close group holds small boxes: up to four of a row
    stand side by side, on a phone two.
    """

    title: str
    rows: tuple[tuple[str, ...], ...]
    says: str = ""
    folded: bool = False
    close: bool = False

    def names(self) -> list[str]:
        return [name for row in self.rows for name in row]


@dataclass(frozen=True)
class Box:
    """One box as the page draws it: with its unit, what was understood of it, and where it stands in the grid."""

    field: BoundField
    unit: str
    echo: str
    place: str  # class: "first" begins a row, "wide" has one to itself; in a close group "double" or "half" too


def order(groups: tuple[Group, ...]) -> list[str]:
    """Every name of the groups in reading order, for `Form.order_fields`."""
    return [name for group in groups for name in group.names()]


def drawn(form: forms.Form, groups: tuple[Group, ...], echo: bool = False) -> list[dict[str, Any]]:
    """The groups for `parts/groups.html`; names that the form does not have are left out, a group without any too.

    Raises LookupError for a field that stands in no group: it could not be filled in. With `echo` each box keeps a line
    for what was understood.
    """
    left = set(form.fields) - set(order(groups))
    if left:
        raise LookupError(f"{sorted(left)}: in no group of the form")
    found = []
    for group in groups:
        boxes = []
        for row in group.rows:
            names = [name for name in row if name in form.fields]
            shown = sum(not form[name].is_hidden for name in names)
            boxes += [
                _box(form, name, nth, len(row), echo, _wide_in(shown, nth) if group.close else "")
                for nth, name in enumerate(names)
            ]
        if boxes:
            open_ = any(box.field.errors or box.field.value() for box in boxes if not box.field.is_hidden)
            found.append(
                {
                    "title": group.title,
                    "says": group.says,
                    "boxes": boxes,
                    "folded": group.folded,
                    "open": open_,
                    "close": group.close,
                }  # fmt: skip
            )
    return found


def _wide_in(shown: int, nth: int) -> str:
    """How wide a box of a close group's row is: "double" beside two, "half" where there are two or one, else a quarter."""
    if shown == 3:
        return "double" if nth == 0 else ""
    return "half" if shown < 3 else ""


def _box(form: forms.Form, name: str, nth: int, of: int, echo: bool, width: str) -> Box:
    understood = form.echo(name) if echo and form.is_bound and hasattr(form, "echo") else ""
    place = "first" if nth == 0 else ""
    if of == 1 and isinstance(form.fields[name].widget, forms.Textarea | forms.RadioSelect | forms.FileInput):
        place = "wide"
    if width:
        place = f"{place} {width}".strip()
    unit = getattr(form.fields[name], "unit_written", "")
    # A no-break space keeps the line's height where nothing is understood yet.
    return Box(form[name], unit, understood or ("\xa0" if echo and unit else ""), place)
