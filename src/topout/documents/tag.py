"""The tag: a label for a part or a unit, with its number as a QR code and in plain letters.

Nothing of the rider stands on it. A tag that says stop is the only one that is black.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any, Final, Literal

from topout.codes import ALPHABET
from topout.documents import pdf, qr
from topout.errors import Fault, FaultsFound

_CODE: Final = re.compile(f"[{ALPHABET}]{{3}}-[{ALPHABET}]{{3}}")

# Beside each other from 45 mm on, one above the other below that: the code needs 20.5 mm either way.
WIDTH_MM: Final = (26.0, 110.0)
LENGTH_MM: Final = (30.0, 150.0)
BESIDE_FROM_MM: Final = 45.0
STACKED_LENGTH_MM: Final = 52.0

Kind = Literal["part", "unit", "stop"]


@dataclass(frozen=True, slots=True)
class Label:
    """The label in the printer: width across, length along the roll; both in mm."""

    width_mm: float = 60.0
    length_mm: float = 40.0

    def __post_init__(self) -> None:
        faults = []
        for name, value, (low, high) in (("width", self.width_mm, WIDTH_MM), ("length", self.length_mm, LENGTH_MM)):
            if not low <= value <= high:
                faults.append(
                    Fault(
                        location=f"label {name}",
                        value=f"{value:g} mm",
                        message=f"a label is {low:g} to {high:g} mm here. Measure one on its roll.",
                        key=f"label.{name}",
                    )
                )
        if not faults and self.width_mm < BESIDE_FROM_MM and self.length_mm < STACKED_LENGTH_MM:
            faults.append(
                Fault(
                    location="label length",
                    value=f"{self.length_mm:g} mm",
                    message=f"under {BESIDE_FROM_MM:g} mm of width the code stands below the text: "
                    f"{STACKED_LENGTH_MM:g} mm or longer is needed. Or turn the label.",
                    key="label.length",
                )
            )
        if faults:
            raise FaultsFound(faults)


@dataclass(frozen=True, slots=True)
class Tag:
    """What stands on a tag: a title, up to a few rows (name, value), where it comes from, its code and address.

    `rows` stand in order of weight: on a small label the last ones give way first, and the tag says so.
    """

    kind: Kind
    title: str
    rows: tuple[tuple[str, str], ...]
    foot: tuple[str, ...]
    code: str
    address: str

    def __post_init__(self) -> None:
        faults = []
        if not self.title.strip():
            faults.append(Fault(location="tag title", message="say what the part is.", key="tag.title"))
        if not _CODE.fullmatch(self.code):
            faults.append(
                Fault(
                    location="tag code",
                    value=self.code,
                    message=f"three and three of {ALPHABET}, as in K7M-4QX.",
                    key="tag.code",
                )
            )
        if self.kind not in ("part", "unit", "stop"):
            faults.append(Fault(location="tag kind", value=self.kind, message="part, unit or stop.", key="tag.kind"))
        if faults:
            raise FaultsFound(faults)


def shaft_tag(
    *,
    travel: str,
    measured: tuple[tuple[str, str], ...],
    marked: str,
    foot: tuple[str, ...],
    code: str,
    address: str,
) -> Tag:
    """The tag of an air shaft: what it really is, as measured (name, value); a mark of its own that says anything else is to be ignored."""
    rows = list(measured)
    if marked:
        rows.append(("marked", f"“{marked}”" if marked.removesuffix("mm").strip() == travel else f"“{marked}”: ignore"))
    return Tag("part", f"Air shaft {travel}".strip(), tuple(rows), foot, code, address)


def stop_tag(
    *, says: str, pressure: str = "", force: str = "", chamber: str = "negative", on: str = "seal head", where: str = "", stands: str = "",
    foot: tuple[str, ...], code: str, address: str,
) -> Tag:  # fmt: skip
    """The black tag of a unit that must not be opened; what is not known is left out.

    `says` is what is the matter and what not to do, "charged, do not open"; `where` what holds it, `chamber` the pressure, and the
    force acts `on` the part named.
    """
    rows = ((chamber, pressure and f"up to {pressure}"), (on, force), ("where", where), ("stands", stands))
    title = " ".join(f"{part[0].upper()}{part[1:]}." for part in says.split(", "))
    return Tag("stop", title, tuple(row for row in rows if row[1]), foot, code, address)


def tag_pdf(tag: Tag, label: Label, created: dt.datetime) -> bytes:
    """One page of exactly the label's size, tagged; raises FaultsFound where address or words don't fit it."""
    try:
        return pdf.pdf("tag.typ", _data(tag, label), created)
    except pdf.DoesNotFit as error:
        raise _too_small(tag, label) from error


def tag_picture(tag: Tag, label: Label, kind: Literal["png", "svg"] = "png", ppi: float = 300.0) -> bytes:
    """The same label as a picture for the page; `ppi` is pixels per inch of a PNG."""
    try:
        return pdf.picture("tag.typ", _data(tag, label), kind, ppi)
    except pdf.DoesNotFit as error:
        raise _too_small(tag, label) from error


def code_of(tag: Tag) -> qr.Code:
    """The tag's QR code; raises FaultsFound where its address doesn't fit one."""
    return qr.code(tag.address)


def spoken(tag: Tag) -> str:
    """The tag's text in reading order, for those who can't see its picture."""
    parts = [tag.title.rstrip("."), *(f"{name} {value}" for name, value in tag.rows), *tag.foot, f"code {tag.code}"]
    return ". ".join(part.rstrip(".") for part in parts) + "."


def _too_small(tag: Tag, label: Label) -> FaultsFound:
    message = f"“{tag.title}” does not fit a label of {label.width_mm:g} × {label.length_mm:g} mm. Use a larger label."
    return FaultsFound([Fault(location="label", message=message, key="label")])


def _data(tag: Tag, label: Label) -> dict[str, Any]:
    made = qr.code(tag.address)
    return {
        "width_mm": label.width_mm,
        "length_mm": label.length_mm,
        "beside": label.width_mm >= BESIDE_FROM_MM,
        "stop": tag.kind == "stop",
        "title": tag.title,
        "rows": [list(row) for row in tag.rows],
        "foot": list(tag.foot),
        "code": tag.code,
        "qr": {"svg": made.svg, "mm": made.size_mm, "alt": f"QR code of {made.address}"},
    }
