"""The tag: exactly the label's size, nothing of the rider, its code read back from what a printer would put down."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import fields
from functools import cache
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image, ImageFilter

from topout.documents import qr, tag
from topout.errors import FaultsFound

from . import readback

WHEN = dt.datetime(2026, 11, 25, 13, 24, tzinfo=dt.UTC)
ADDRESS = "http://topout.hask-lane.lan/t/R4W9CX"
HELD = ADDRESS.upper()
NB = "\N{NO-BREAK SPACE}"
AN_AIR_SHAFT = tag.shaft_tag(
    travel="140",
    measured=(("length", f"318.5{NB}mm"), ("shaft", f"10.0{NB}mm"), ("for bore", f"34{NB}mm")),
    marked="B3",
    foot=("out of K7M-4QX, job 214", "25 Nov 2026, M.A."),
    code="R4W-9CX",
    address=ADDRESS,
)
CHARGED = tag.stop_tag(
    says="charged, do not open",
    pressure=f"72{NB}psi",
    force=f"450{NB}N",
    stands=f"102{NB}mm in",
    foot=("fork, job 214", "25 Nov 2026, 12:53, M.A."),
    code="K7M-4QX",
    address=ADDRESS,
)
A_FORK = tag.Tag(
    "unit",
    "Fork, 35 mm",
    (("serial", "0417-22"), ("travel", f"140{NB}mm")),
    ("job 214", "25 Nov 2026, M.A."),
    "K7M-4QX",
    ADDRESS,
)


@cache
def drawn(which: tag.Tag, label: tag.Label) -> bytes:
    """The tag's PDF, drawn once for all that is asked of it."""
    return tag.tag_pdf(which, label, WHEN)


@cache
def seen(which: tag.Tag, label: tag.Label, dpi: int) -> Image.Image:
    """What a printer of so many dots would put down."""
    return readback.picture(drawn(which, label), dpi)


LABELS = (tag.Label(), tag.Label(40, 60), tag.Label(45, 30), tag.Label(26, 52), tag.Label(100, 50), tag.Label(110, 150))
DPI = (203, 300)


def in_turn(*kinds: tag.Tag) -> list[Any]:
    """Every label daily, with one kind of tag or another, and every kind at the usual one; each with each in the soak."""
    return [
        pytest.param(which, label, id=f"{which.kind}-{label.width_mm:g}x{label.length_mm:g}",
                     marks=[pytest.mark.soak] if n and n % len(kinds) != k else [])
        for n, label in enumerate(LABELS) for k, which in enumerate(kinds)
    ]  # fmt: skip


@pytest.mark.poppler
@pytest.mark.parametrize(("which", "label"), in_turn(AN_AIR_SHAFT, CHARGED, A_FORK))
def test_one_page_of_exactly_the_label_with_every_word(which: tag.Tag, label: tag.Label) -> None:
    made = drawn(which, label)
    assert len(readback.reader(made).pages) == 1
    assert readback.page_size_mm(made) == pytest.approx((label.width_mm, label.length_mm), abs=0.01)
    text = readback.text(made)
    words = [which.title, which.code, *(part for row in which.rows for part in row), *which.foot]
    for word in words:
        assert readback.plain(word) in text, (word, text)
    assert readback.fonts(made) <= {"Inter-Regular", "Inter-SemiBold", "Inter-Bold"}


@pytest.mark.parametrize(
    ("marked", "says"), [("140", "“140”"), ("140 mm", "“140 mm”"), ("150", "“150”: ignore"), ("B3", "“B3”: ignore")]
)
def test_a_mark_that_says_what_was_measured_is_not_to_be_ignored(marked: str, says: str) -> None:
    shaft = tag.shaft_tag(travel="140", measured=(), marked=marked, foot=(), code="R4W-9CX", address=ADDRESS)
    assert shaft.rows == (("marked", says),)


def test_structure_title_and_language() -> None:
    made = tag.tag_pdf(AN_AIR_SHAFT, tag.Label(), WHEN)
    root = readback.reader(made).trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert readback.reader(made).metadata.title == "Tag R4W-9CX: Air shaft 140"  # type: ignore[union-attr]
    assert b"pdfuaid" in made
    tree = readback.structure(made)
    assert [one.kind for one in tree].count("/H1") == 1
    assert [one.alt for one in tree if one.kind == "/Figure"] == [f"QR code of {HELD}"]


def test_the_tag_knows_nothing_of_the_rider() -> None:
    assert {field.name for field in fields(tag.Tag)} == {"kind", "title", "rows", "foot", "code", "address"}


@pytest.mark.poppler
@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize(("which", "label"), in_turn(AN_AIR_SHAFT, CHARGED))
def test_the_code_is_read_back_clean_and_blurred(which: tag.Tag, label: tag.Label, dpi: int) -> None:
    image = seen(which, label, dpi)
    for blur_mm in (0.0, 0.2):
        blurred = image.filter(ImageFilter.GaussianBlur(blur_mm * dpi / 25.4))
        found = zxingcpp.read_barcodes(blurred)
        assert [one.text for one in found] == [HELD], f"{blur_mm} mm"


@pytest.mark.poppler
@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize(
    ("tone", "share", "finders_free"), [(0.45, 0.15, False), (0.0, 0.10, True), (None, 0.10, True)]
)
def test_the_code_is_read_back_dirty(dpi: int, tone: float | None, share: float, finders_free: bool) -> None:
    """Row 24 of look.md B7: a smear of oil over 15 % anywhere (the print shows through, 55 % darker), or an opaque
    patch, black or white, over 10 % beside the three corner marks; at least 99 % read. 15 % opaque is beyond level Q:
    a patch of that area touches over a quarter of the code words, and no reader finds a code whose corner is gone."""
    _dirty(dpi, tone, share, finders_free, 30)


@pytest.mark.soak
@pytest.mark.poppler
@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize(
    ("tone", "share", "finders_free"), [(0.45, 0.15, False), (0.0, 0.10, True), (None, 0.10, True)]
)
def test_the_code_is_read_back_dirty_thousand(dpi: int, tone: float | None, share: float, finders_free: bool) -> None:
    _dirty(dpi, tone, share, finders_free, 1000)


def _dirty(dpi: int, tone: float | None, share: float, finders_free: bool, times: int) -> None:
    label = tag.Label()
    made = qr.code(ADDRESS)
    side = made.size_mm
    edge = label.width_mm - (side + 2.5) + 1.25  # where the quiet zone begins
    mm = dpi / 25.4
    printed = seen(AN_AIR_SHAFT, label, dpi)
    code = printed.crop(
        (round((edge - 0.5) * mm), round(0.7 * mm), round((edge + side + 0.5) * mm), round((side + 1.7) * mm))
    )
    enlarged = code.resize(
        (code.width * 3, code.height * 3), Image.Resampling.NEAREST
    )  # a camera has three pixels a dot
    clean = np.asarray(enlarged)
    under = np.full_like(clean, 255) if tone is None else (clean * tone).astype(np.uint8)
    px = 3 * mm
    rows, columns = np.ogrid[: clean.shape[0], : clean.shape[1]]
    y, x = ((each.astype(np.float32) + 0.5) / px - 0.5 - qr.QUIET_MODULES * qr.MODULE_MM for each in (rows, columns))
    size = made.modules * qr.MODULE_MM
    open_to_dirt = (x >= 0) & (x < size) & (y >= 0) & (y < size)
    if finders_free:
        mark = 7 * qr.MODULE_MM + 0.25
        for at_x, at_y in ((0, 0), (size - mark, 0), (0, size - mark)):
            open_to_dirt &= ~((x >= at_x) & (x < at_x + mark) & (y >= at_y) & (y < at_y + mark))
    count = int(share * size * size * px * px)
    assert count < open_to_dirt.sum()
    chance = np.random.default_rng(2024)
    read = 0
    for _ in range(times):
        cx, cy = chance.uniform(0, size, 2)
        far = (x - np.float32(cx)) ** 2 + (y - np.float32(cy)) ** 2
        patch = open_to_dirt & (far <= np.partition(far[open_to_dirt], count)[count])
        photo = Image.fromarray(np.where(patch, under, clean)).filter(ImageFilter.GaussianBlur(0.1 * px))
        found = zxingcpp.read_barcodes(photo, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
        read += [one.text for one in found] == [HELD]
    assert read / times >= 0.99


def test_a_label_that_says_stop_is_black_and_no_other() -> None:
    def dark(which: tag.Tag) -> float:
        with Image.open(io.BytesIO(tag.tag_picture(which, tag.Label(), "png", 100))) as image:
            left = image.convert("L").crop((0, 0, image.width * 6 // 10, image.height))
        return float((np.asarray(left) < 128).mean())

    assert dark(CHARGED) > 0.7
    assert dark(AN_AIR_SHAFT) < 0.3 and dark(A_FORK) < 0.3


def test_a_picture_has_the_labels_shape() -> None:
    with Image.open(io.BytesIO(tag.tag_picture(AN_AIR_SHAFT, tag.Label(), "png", 203))) as image:
        assert image.size == pytest.approx((60 / 25.4 * 203, 40 / 25.4 * 203), abs=1)
    assert tag.tag_picture(AN_AIR_SHAFT, tag.Label(), "svg").startswith(b"<svg")


@pytest.mark.parametrize(
    ("width", "length", "names"),
    [
        (25, 40, ["label width"]),
        (111, 40, ["label width"]),
        (60, 29, ["label length"]),
        (60, 151, ["label length"]),
        (10, 10, ["label width", "label length"]),
        (44, 51, ["label length"]),
        (float("nan"), 40, ["label width"]),
    ],
)
def test_a_label_out_of_range_names_every_side(width: float, length: float, names: list[str]) -> None:
    with pytest.raises(FaultsFound) as caught:
        tag.Label(width, length)
    assert [fault.location for fault in caught.value.faults] == names


@pytest.mark.parametrize("code", ["R4W9CX", "R0W-9CX", "ROW-9CX", "R1W-9CX", "RIW-9CX", "r4w-9cx", "R4W-9CXX", ""])
def test_a_code_with_look_alikes_is_refused(code: str) -> None:
    with pytest.raises(FaultsFound, match="tag code"):
        tag.Tag("part", "Air shaft", (), (), code, ADDRESS)


def test_only_letters_of_the_workshops_own_codes_are_printed() -> None:
    """A, B, E, L, S, U and Z are in no code of ours: a tag with one was mistyped or is not from here."""
    for letter in "ABELSUZ":
        with pytest.raises(FaultsFound, match="tag code"):
            tag.Tag("part", "Air shaft", (), (), f"R4W-9C{letter}", ADDRESS)


@pytest.mark.poppler
def test_many_rows_give_way_from_the_end_and_the_tag_says_so() -> None:
    rows = tuple((f"row {n}", f"value number {n}") for n in range(1, 13))
    text = readback.text(
        tag.tag_pdf(tag.Tag("part", "Air shaft 140", rows, ("job 214",), "R4W-9CX", ADDRESS), tag.Label(), WHEN)
    )
    kept = [n for n in range(1, 13) if f"value number {n} " in text]
    assert kept == list(range(1, len(kept) + 1)) and 3 <= len(kept) < 12
    assert "more on the job card" in text
    assert "job 214" in text


@pytest.mark.poppler
def test_a_long_word_breaks_and_is_not_cut() -> None:
    word = "Supercalibratedtravelreductionspacer"
    text = readback.text(
        tag.tag_pdf(
            tag.Tag("part", word, (("marked", "x" * 40),), ("job 214",), "R4W-9CX", ADDRESS), tag.Label(45, 40), WHEN
        )
    )
    together = text.replace(" ", "")
    assert word in together and "x" * 40 in together


def test_words_that_do_not_fit_make_no_tag() -> None:
    endless = tag.Tag("part", "very long name " * 12, (), ("job 214",), "R4W-9CX", ADDRESS)
    with pytest.raises(FaultsFound, match="45 × 30 mm. Use a larger label"):
        tag.tag_pdf(endless, tag.Label(45, 30), WHEN)


@pytest.mark.poppler
def test_accents_and_emoji_on_a_tag() -> None:
    text = readback.text(
        tag.tag_pdf(
            tag.Tag("part", "Wałek Żółć 🚲", (("größe", "Ø 34"),), ("Łukasz",), "R4W-9CX", ADDRESS), tag.Label(), WHEN
        )
    )
    for word in ("Wałek Żółć [bicycle]", "größe", "Ø 34", "Łukasz"):
        assert word in text


def test_what_is_not_known_is_left_off_the_stop_tag() -> None:
    short = tag.stop_tag(
        says="charged, do not open", force=f"450{NB}N", foot=("job 1",), code="K7M-4QX", address=ADDRESS
    )
    assert short.rows == (("seal head", f"450{NB}N"),)


def test_spoken_carries_every_word() -> None:
    said = tag.spoken(CHARGED)
    assert said.startswith("Charged. Do not open. negative up to 72")
    assert said.endswith("code K7M-4QX.")
