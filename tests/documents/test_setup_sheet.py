"""The set-up sheet read back: text, structure, alternative texts, pages; long and foreign words."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from PIL import Image

from topout.documents import pdf
from topout.documents.setup_sheet import Large, Noted, SetUpSheet, Struck, Table, sheet_pdf

from . import readback
from .sheets import NB, WHEN, full, sheet


@cache
def made_full() -> bytes:
    """The fullest sheet's PDF, drawn once for all that is asked of it."""
    return sheet_pdf(full(), WHEN)


def words_of(value: Any) -> list[str]:
    """Every text of a sheet but the pictures' own."""
    if isinstance(value, str):
        return [value] if value else []
    if isinstance(value, tuple):
        return [word for part in value for word in words_of(part)]
    if is_dataclass(value):
        return [
            word
            for field in fields(value)
            if field.name not in ("svg", "alt", "workshop", "here", "paper")
            for word in words_of(getattr(value, field.name))
        ]
    return []


@pytest.mark.poppler
def test_two_pages_with_every_word() -> None:
    made = made_full()
    assert len(readback.reader(made).pages) == 2
    assert readback.page_size_mm(made) == pytest.approx((210, 297), abs=0.1)
    text = readback.text(made)
    words = words_of(full())
    assert len(words) > 60
    for word in words:
        assert readback.plain(word) in text, word
    for word in ("Hask Lane workshop", "1 of 2", "2 of 2", "Job 214 · plan of 10:05 · Topout 0.1.0"):
        assert word in text
    assert text.index("What changed") < text.index("If your weight changes") < text.index("Before you ride")


@pytest.mark.poppler
def test_on_letter_paper_it_says_the_same_on_two_pages() -> None:
    """A hand shorter than A4: nothing is left out, nothing runs onto a third page."""
    made = sheet_pdf(replace(full(), paper="us-letter"), WHEN)
    assert len(readback.reader(made).pages) == 2
    assert readback.page_size_mm(made) == pytest.approx((215.9, 279.4), abs=0.1)
    text = readback.text(made)
    assert [word for word in words_of(full()) if readback.plain(word) not in text] == []


@pytest.mark.poppler
def test_what_is_in_the_picture_can_be_read_too() -> None:
    text = readback.text(made_full())
    for word in ("after, slow", "2 010 N", "wheelbase 1 180 → 1 184 mm, +4", "67.6 → 67.0°, −0.6"):
        assert readback.plain(word.replace(" 030", "\N{NARROW NO-BREAK SPACE}030")).replace(" ", "") in text.replace(
            " ", ""
        )


def test_structure_title_language_and_standard() -> None:
    made = made_full()
    root = readback.reader(made).trailer["/Root"]
    assert root["/Lang"] == "en-GB"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    meta = readback.reader(made).metadata
    assert meta is not None and meta.title == "Set-up sheet, Runa Telvik, Wednesday 25 November 2026"
    assert b"pdfuaid:part>1<" in made.replace(b"\n", b"") or b'pdfuaid:part="1"' in made
    kinds = [one.kind for one in readback.structure(made)]
    assert kinds.count("/H1") == 1
    assert kinds.index("/H1") < kinds.index("/H2")
    assert kinds.count("/Table") == kinds.count("/THead") == 4
    assert kinds.count("/H2") == 10
    assert kinds.count("/TR") == 1 + 7 + 1 + 5 + 2 * (1 + 5)
    assert kinds.count("/Figure") == kinds.count("/Caption") == 2


def test_alternative_texts_carry_the_numbers() -> None:
    force, stance = (one.alt for one in readback.structure(made_full()) if one.kind == "/Figure")
    for number in ("1\u202f950", "2\u202f440", "2\u202f010", "2\u202f540", "140 mm", "150 mm", "31.0 mm", "32.5 mm"):
        assert number in force
    for number in ("67.6 to 67.0 degrees", "326 to 330 mm", "105 to 111 mm", "1\u202f180 to 1\u202f184 mm"):
        assert number in stance


@pytest.mark.poppler
def test_poppler_finds_it_tagged_and_only_our_type_face() -> None:
    made = made_full()
    said = readback.poppler(made, "pdfinfo")
    assert "Tagged:          yes" in said and "Pages:           2" in said
    faces = readback.poppler(made, "pdffonts")
    assert faces.count("Inter") >= 4
    assert all("Inter" in line and " yes yes " in line for line in faces.splitlines()[2:])  # embedded, as a subset


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert made_full() == sheet_pdf(replace(full()), WHEN)


@pytest.mark.poppler
def test_a_correction_shows_both_readings_and_the_reason() -> None:
    twice = Noted("Pressure", f"72{NB}psi", (Struck(f"78{NB}psi", "warm"), Struck(f"75{NB}psi", "wrong gauge")))
    text = readback.text(sheet_pdf(sheet(found=(twice,)), WHEN))
    for word in ("72 psi", "not 78 psi: warm", "not 75 psi: wrong gauge"):
        assert word in text


LONG = "A long remark about something that was seen on the bench and has to be told to the rider in full."
BARE = SetUpSheet(
    rider="A rider", bike="", unit="", tag="", workshop="W", day="1 May 2026", job="Job 1", plan_said="", version="T 1",
    large=(),
)  # fmt: skip


def test_a_bare_sheet_is_one_page() -> None:
    made = sheet_pdf(BARE, WHEN)
    assert len(readback.reader(made).pages) == 1
    kinds = [one.kind for one in readback.structure(made)]
    assert "/Figure" not in kinds and "/Table" not in kinds


@pytest.mark.poppler
def test_a_short_sheet_without_pictures_is_one_page() -> None:
    short = sheet(force=None, stance=None, changed="", stands="", masses=None, temperatures=None, own_pump=None)
    made = sheet_pdf(short, WHEN)
    assert len(readback.reader(made).pages) == 1
    text = readback.text(made)
    assert "70 psi" in text and "Released by Maud Askel" in text and "1 of 1" in text


@pytest.mark.poppler
@pytest.mark.parametrize("count", [1, 30, 60, *(pytest.param(n, marks=pytest.mark.soak) for n in (10, 200))])
def test_many_notes_never_make_a_third_page(count: int) -> None:
    many = tuple(f"{n}: {LONG}" for n in range(1, count + 1))
    made = sheet_pdf(sheet(done=many, watch=many[: count // 2]), WHEN)
    assert len(readback.reader(made).pages) == 2
    text = readback.text(made)
    kept = [n for n in range(1, count + 1) if f" {n}: A long remark" in text]
    assert kept == list(range(1, len(kept) + 1)) and kept
    assert ("More on the job card." in text) == (len(kept) < count)
    # What a rider's neck hangs on is never what gives way.
    for word in ("Check them again after the first ride.", "Released by Maud Askel", "Next service", "not 78 psi"):
        assert word in text


@pytest.mark.poppler
def test_long_names_stay_whole_on_page_one() -> None:
    name = "Maximiliana Hildegunde von und zu Oberunterhohenstein-Vordermeiertal the Elder"
    word = "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft" * 2
    made = sheet_pdf(
        sheet(rider=name, bike=word, unit="unit " * 20, changed=f"{LONG} {LONG} {LONG}", stands=f"{LONG} {LONG}"), WHEN
    )
    assert len(readback.reader(made).pages) == 2
    text = readback.text(made)
    assert name in text and word in text.replace(" ", "")
    assert text.count(LONG) == 5


@pytest.mark.poppler
def test_a_name_without_a_space_is_not_cut() -> None:
    name = "W" * 120
    made = sheet_pdf(sheet(rider=name), WHEN)
    assert name in readback.text(made).replace(" ", "")
    left, right = _ink_span(readback.picture(made, 60))
    assert 0.04 < left and right < 0.96


def _ink_span(page: Image.Image) -> tuple[float, float]:
    """Where ink begins and ends across the page, as shares of its width."""
    dark = (np.asarray(page) < 160).any(axis=0)
    columns = np.nonzero(dark)[0]
    return columns[0] / page.width, (columns[-1] + 1) / page.width


@pytest.mark.poppler
def test_no_ink_leaves_the_margins() -> None:
    many = tuple(f"{n}: {LONG}" for n in range(1, 60))
    for made in (made_full(), sheet_pdf(sheet(watch=many, done=many), WHEN)):
        for page in (1, 2):
            image = readback.picture(made, 60, page)
            left, right = _ink_span(image)
            top, bottom = _ink_span(image.transpose(Image.Transpose.ROTATE_90))
            assert 0.05 < left and right < 0.95 and 0.02 < top and bottom < 0.98


def test_what_can_never_fit_is_said() -> None:
    with pytest.raises(pdf.DoesNotFit):
        sheet_pdf(sheet(before_ride=(LONG,) * 80), WHEN)


@pytest.mark.poppler
def test_accents_emoji_and_foreign_letters() -> None:
    text = readback.text(sheet_pdf(sheet(rider="Żółć Ångström 🚲", bike="Größe Ø 34", workshop="Łąka Дом Ωμέγα"), WHEN))
    for word in ("Żółć Ångström [bicycle]", "Größe Ø 34", "Łąka Дом Ωμέγα"):
        assert word in text


@pytest.mark.poppler
def test_every_large_number_stands_with_its_unit() -> None:
    large = (Large("Pressure", "120.55", "psi", "n1"), Large("Sag", "1\u202f234", "mm", "n2"), *full().large[2:])
    text = readback.text(sheet_pdf(sheet(large=large), WHEN))
    for word in ("120.55 psi", "1234 mm", "7 clicks"):  # poppler reads a thin space as none
        assert word in text


def test_a_wide_table_note_and_no_own_pump() -> None:
    odd = Table("If your weight changes", ("dressed to ride", "psi", "bar"), ((f"61{NB}kg", "54", "3.71"),), None, LONG)
    assert len(readback.reader(sheet_pdf(sheet(masses=odd, own_pump=None, temperatures=None), WHEN)).pages) == 2
