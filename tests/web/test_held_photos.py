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

from topout.web.access.change import change, new_key
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


def test_photos_go_up_while_one_writes_and_are_kept_with_the_form(hands: Hands, cast: Cast) -> None:
    browser = people.browser(cast.technician)
    place = "/jobs/301/readings/as-found/"
    page = browser.get(place)
    token = people.field_of(page, "csrfmiddlewaretoken")
    said = page.content.decode()
    assert 'data-photos="/photos/hold/"' in said and re.search(r'name="photos"[^>]*multiple', said)
    assert re.search(r'type="file" name="photos"[^>]*capture="environment"', said), (
        "the camera stands beside the plain chooser"
    )
    answers = [
        browser.post("/photos/hold/", {"csrfmiddlewaretoken": token, "photo": each})
        for each in (photo(), photo("b.jpg", (10, 20, 30)), SimpleUploadedFile("c.jpg", b"no picture"))
    ]
    assert [answer.status_code for answer in answers] == [200, 200, 200] and not Photo.objects.exists()
    first, second, wrong = (answer.json()["photos"][0] for answer in answers)
    assert "can’t be opened as a photo" in wrong["wrong"] and browser.get(first["src"]).status_code == 200
    fields = {
        "csrfmiddlewaretoken": token,
        "change_key": new_key(),
        "temperature": "18",
        "photos-of": "as it came",
        "held-photos": [first["token"], second["token"]],
    }
    assert browser.post(place, fields).status_code in (302, 303) and Photo.objects.count() == 2
    several = {
        "csrfmiddlewaretoken": token,
        "photo": [photo(f"{nth}.jpg", (nth, 0, 0)) for nth in range(photos.MOST_AT_ONCE)],
    }
    assert len(browser.post("/photos/hold/", several).json()["photos"]) == photos.MOST_AT_ONCE
    assert browser.post("/photos/hold/", {"photo": photo()}).status_code == 403, "another site's form"
    assert browser.get("/photos/hold/").status_code == 405
    assert people.browser().post("/photos/hold/", {"photo": photo()}).status_code in (302, 403)
    assert browser.post("/photos/hold/", {"csrfmiddlewaretoken": token}).json() == {"photos": []}


def test_the_card_loads_thumbnails_and_the_browser_keeps_them(hands: Hands, cast: Cast) -> None:
    from topout.web.access.change import change

    points = Image.effect_noise((2400, 1800), 90).convert("RGB")
    out = io.BytesIO()
    points.save(out, "JPEG", quality=92)
    with change(cast.technician, "photo", {}) as doing:
        row = photos.keep(doing, hands.job, photos.draw_anew(out.getvalue()), of="the crown")
    browser = people.browser(cast.technician)
    card = browser.get("/jobs/301/").content.decode()
    small = f"/jobs/301/photos/{row.sha256}/small.jpg"
    assert f'<a href="/jobs/301/photos/{row.sha256}.jpg"><img src="{small}"' in card, "the large one is a tap away"
    answer, large = browser.get(small), browser.get(f"/jobs/301/photos/{row.sha256}.jpg")
    with Image.open(io.BytesIO(answer.content)) as picture_:
        assert max(picture_.size) == photos.SMALL_PX and picture_.size == (480, 360) and not picture_.getexif()
    assert len(answer.content) < len(large.content) / 10
    for each in (answer, large):
        assert each.headers["Cache-Control"] == "private, max-age=31536000, immutable"
        assert "sandbox" in each.headers["Content-Security-Policy"]
    assert (
        people.browser().get(small).status_code == 302
        and browser.get(f"/jobs/302/photos/{row.sha256}/small.jpg").status_code == 404
    )
    photos.path_of(row.sha256).write_bytes(b"another")
    spoilt = browser.get(small)
    assert spoilt.status_code == 404 and "no-store" in spoilt.headers["Cache-Control"], "what is wrong is not kept"


@pytest.mark.parametrize("damage", [b"", b"half", None], ids=["emptied", "torn", "gone"])
def test_a_photo_whose_file_was_damaged_is_whole_again_when_its_picture_comes_again(
    hands: Hands, damage: bytes | None
) -> None:
    """A file of that name was there, so nothing was written: the new row led to the torn one, and to no photo."""
    drawn = photos.draw_anew(picture())
    with change(hands.who, "photo", {}) as doing:
        row = photos.keep(doing, hands.job, drawn, of="the crown")
    place = photos.path_of(row.sha256)
    if damage is None:
        place.unlink()
    else:
        place.write_bytes(damage)
    with change(hands.who, "again", {}) as doing:
        photos.keep(doing, hands.job, drawn, of="the crown")
    assert photos.bytes_of(hands.job.number, row.sha256)[1] == drawn.data
