"""The sag of a rider as it is typed from the list, at three sizes: its button in sight, no answer's word in two pieces."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from web.people import Cast
from web.served import SIZES, served, signed_in
from web.test_back_to_rider import back_to_its_rider

pytestmark = pytest.mark.browser

# What a finger meets in the middle of the form's main button.
MET = """() => { const box = document.querySelector('form.hand .go').getBoundingClientRect();
  return document.elementFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2)?.closest('button, a')?.textContent.trim() ?? '' }"""
# Answers that stand on more lines than they have words.
BROKEN = """() => [...document.querySelectorAll('.tickform.answers .tick span')].map((each) => {
  const words = document.createRange(); words.selectNodeContents(each);
  return [each.textContent, new Set([...words.getClientRects()].map((line) => Math.round(line.top))).size] })
  .filter(([text, lines]) => lines > text.trim().split(/\\s+/).length)"""


@pytest.mark.parametrize(("of", "key"), [("shock", "sag-behind"), ("fork", "sag")])
def test_a_sag_is_typed_from_its_row(chromium: Browser, cast: Cast, of: str, key: str) -> None:
    hands = back_to_its_rider(cast, of)
    assert hands._work(key) is not None
    with served() as here:
        for size, (width, height) in SIZES.items():
            context = signed_in(chromium, here, cast.technician, viewport={"width": width, "height": height})
            page = context.new_page()
            page.goto(f"{here}/jobs/{hands.job.number}/steps/")
            assert page.evaluate(BROKEN) == [], size
            page.locator(f".tickform a[href='?put={key}']").click()
            page.locator("form.hand").wait_for()
            assert page.evaluate(MET) == "Save", (size, page.evaluate(MET))
            context.close()
