"""A photo survives a form error: it is shown again, sent again by itself, and is kept once."""

from __future__ import annotations

import io
import re
import time
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from topout.web.access.change import new_key
from topout.web.jobs.readings import held, photos
from topout.web.jobs.records.models import Photo
from web import people
from web.people import Cast
from web.steps_kit import Hands, form_of, gauge, make_job, one_a_page, passing, picture


@pytest.fixture
def hands(cast: Cast) -> Hands:
    gauge()
    hands = Hands(cast.technician, make_job(cast.technician))
    one_a_page(cast.technician)
    hands.begin()
    return hands


def tokens(text: str) -> list[str]:
    return re.findall(r'name="held-[^"]+" value="([^"]+)"', text)


def photo(name: str = "a.jpg", colour: tuple[int, int, int] = (120, 110, 90)) -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (9, 7), colour).save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def test_as_found_keeps_its_photos_when_a_box_is_wrong(hands: Hands, cast: Cast) -> None:
    browser = people.browser(cast.technician)
    place = "/jobs/301/readings/as-found/"
    token = people.field_of(browser.get(place), "csrfmiddlewaretoken")
    base = {"csrfmiddlewaretoken": token, "photos-of": "as it came"}
    wrong = browser.post(
        place,
        base | {"change_key": new_key(), "temperature": "warm", "photos": [photo(), photo("b.jpg", (10, 20, 30))]},
    )
    text = wrong.content.decode()
    assert wrong.status_code == 422 and not Photo.objects.exists()
    kept = tokens(text)
    assert len(kept) == 2 and text.count('class="photo-thumb"') == 2
    for each in kept:
        shown = browser.get(f"/photos/held/{each}/")
        assert shown.status_code == 200 and Image.open(io.BytesIO(shown.content)).size == (9, 7)
        assert people.browser().get(f"/photos/held/{each}/").status_code == 302
    right = browser.post(place, base | {"change_key": new_key(), "temperature": "18", "held-photos": kept})
    assert right.status_code == 302 or right.status_code == 303, right.content.decode()[:2000]
    assert Photo.objects.count() == 2 and len({row.sha256 for row in Photo.objects.all()}) == 2


def test_a_step_keeps_its_photo_when_another_answer_is_missing(hands: Hands, cast: Cast) -> None:
    browser = people.browser(cast.technician)
    slot = next(
        each for each in hands.here().slots if any(e.kind == "photo" for e in each.step.evidence) and len(each.step.evidence) > 1
    )  # fmt: skip
    hands.until(slot.step.key)
    key = next(each.key for each in slot.step.evidence if each.kind == "photo")
    place = f"/jobs/301/steps/{slot.step.key}/"
    fields = {k: "on" if a.tick else a.choice or a.text for k, a in passing(hands.here(), slot).items() if not a.photo}
    missing = next(iter(fields))
    first = browser.post(
        place, form_of(browser.get(place)) | {k: v for k, v in fields.items() if k != missing} | {key: photo()}
    )
    kept = tokens(first.content.decode())
    assert first.status_code == 422 and len(kept) == 1 and "photo-thumb" in first.content.decode()
    second = browser.post(place, form_of(browser.get(place)) | fields | {f"held-{key}": kept[0]})
    assert second.status_code == 303, second.content.decode()[:3000]
    assert Photo.objects.filter(step_key=slot.step.key).count() == 1


@pytest.mark.parametrize("name", ["", "x", "../../etc/passwd", "eyJ:1:2"])
def test_a_name_that_is_not_ours_holds_nothing(hands: Hands, cast: Cast, name: str) -> None:
    assert held.held(name) is None
    browser = people.browser(cast.technician)
    place = "/jobs/301/readings/as-found/"
    token = people.field_of(browser.get(place), "csrfmiddlewaretoken")
    browser.post(
        place, {"csrfmiddlewaretoken": token, "change_key": new_key(), "temperature": "18", "held-photos": name}
    )
    assert not Photo.objects.exists()


def test_what_nobody_came_back_to_goes(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = photos.draw_anew(picture())
    name = held.hold(drawn)
    file = Path(settings.PHOTOS) / "held" / f"{drawn.sha256}.jpg"
    assert held.held(name) == drawn and file.exists()
    later = time.time() + 15 * 24 * 3600
    monkeypatch.setattr(time, "time", lambda: later)
    other = photos.draw_anew(photo(colour=(1, 2, 3)).read())
    held.hold(other)
    assert not file.exists()
