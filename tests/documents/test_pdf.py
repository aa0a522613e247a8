"""The room that knows the PDF library: letters, templates, sharing between threads."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from concurrent.futures import ThreadPoolExecutor

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from topout.documents import pdf, tag

from .test_tag import AN_AIR_SHAFT, WHEN

# What people in a workshop write, and what we write ourselves; a letter lacking here would print as an empty box.
NEEDED = (
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
    "ÄÖÜäöüßÀÂÇÈÉÊËÎÏÔŒÙÛàâçèéêëîïôœùûÁÍÓÚÑáíóúñÃÕãõÅåÆæØøÐðÞþ"
    "ĄĆĘŁŃŚŹŻąćęłńśźżČĎĚŇŘŠŤŮŽčďěňřšťůžĐđŐőŰűĂăȘșȚțĞğİıĀāĒēĢģĪīĶķĻļŅņŪū"
    "АБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдежзийклмнопрстуфхцчшщъыьэюя"
    "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρσςτυφχψω"
    "−→·°²³×±≤≥½…–—‘’“”«»„‚€£%&@#/\\()[]{}<>+=*!?;:,.'\"_|~^$µ"
    "\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}\N{NON-BREAKING HYPHEN}"
)


def test_every_weight_has_the_letters_people_need() -> None:
    for path in sorted(pdf.FONTS.glob("*.ttf")):
        with TTFont(path, lazy=True) as font:
            has = set(font.getBestCmap())
        lacking = [f"{sign} U+{ord(sign):04X}" for sign in NEEDED if ord(sign) not in has]
        assert not lacking, f"{path.name}: {lacking}"
    assert pdf.drawable(NEEDED) == unicodedata.normalize("NFC", NEEDED)


@pytest.mark.parametrize(
    ("typed", "drawn"),
    [
        ("Ana 🚲", "Ana [bicycle]"),
        ("Jose\N{COMBINING ACUTE ACCENT}", "José"),
        ("⌀ 34 mm", "[diameter sign] 34 mm"),
        ("👩🏽\N{ZERO WIDTH JOINER}🔧 ok", "[woman][wrench] ok"),
        ("❤\N{VARIATION SELECTOR-16}", "❤"),
        ("one\ntwo\tthree", "one two three"),
        ("nul\x00 bell\x07", "nul bell"),
        ("a\N{RIGHT-TO-LEFT OVERRIDE}b", "ab"),
        ("ﬁt", "fit"),
        ("山田", "[cjk unified ideograph-5c71][cjk unified ideograph-7530]"),
    ],
)
def test_a_letter_the_face_lacks_is_written_out(typed: str, drawn: str) -> None:
    assert pdf.drawable(typed) == drawn


@given(st.text(max_size=60))
def test_nothing_undrawable_is_left(typed: str) -> None:
    drawn = pdf.drawable(typed)
    assert all(ord(sign) in pdf.letters() for sign in drawn)
    assert pdf.drawable(drawn) == drawn


def test_data_is_never_read_as_markup() -> None:
    hostile = tag.Tag(
        "part", '#panic("x") $1/0$ *a*', (("#set", "[b]"), ("_i_", "@ref <l> //c")), ("\\u{41}",), "R4W-9CX", "http://a"
    )
    made = pdf.picture("tag.typ", tag._data(hostile, tag.Label()), "svg")
    assert made.startswith(b"<svg")


def test_templates_ask_the_network_for_nothing() -> None:
    for path in pdf.TEMPLATES.glob("*.typ"):
        words = path.read_text(encoding="utf-8")
        assert "@" not in re.sub(r"//.*", "", words), path
        assert "eval(" not in words, path
        assert "fallback: false" in words, path


def test_a_document_without_time_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        pdf.pdf("tag.typ", {}, dt.datetime(2026, 11, 25))  # noqa: DTZ001


def test_many_threads_make_the_same_bytes() -> None:
    once = tag.tag_pdf(AN_AIR_SHAFT, tag.Label(), WHEN)
    with ThreadPoolExecutor(8) as pool:
        assert {bytes(one) for one in pool.map(lambda _: tag.tag_pdf(AN_AIR_SHAFT, tag.Label(), WHEN), range(24))} == {
            once
        }
