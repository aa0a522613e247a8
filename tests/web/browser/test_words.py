"""The measure of plain words: on sentences counted by hand, and on ones that must not pass. The pages are tried with every other rule in tests/web/test_every_page_browser.py."""

from __future__ import annotations

import pytest

from web.browser.words import findings, grade, sentences, syllables


def test_syllables_and_a_grade_counted_by_hand() -> None:
    counted = {
        "fork": 1,
        "pressure": 2,
        "negative": 3,
        "valve": 1,
        "little": 2,
        "measure": 2,
        "free": 1,
        "equalising": 4,
    }
    assert {word: syllables(word) for word in counted} == counted
    assert grade(sentences("The cat sat on the mat.")) == pytest.approx(0.39 * 6 + 11.8 - 15.59)
    # 4 + 5 words, 5 + 6 syllables
    assert grade(sentences("Let the fork settle. Read the pressure once more.")) == pytest.approx(
        0.39 * 4.5 + 11.8 * 11 / 9 - 15.59
    )


def test_what_is_not_plain_is_found() -> None:
    heavy = "Extraordinary consideration necessitates comprehensive documentation of instrumentation. " * 6
    assert [what for what, _ in findings(heavy)] == ["reading grade"]
    assert findings("Please fill in this required field.") == [
        ("a word of machines", "Please"),
        ("a word of machines", "required"),
    ]
    assert findings("Let the fork settle. Read the pressure once more. " * 8) == []
