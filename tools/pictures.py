"""Shoots every page of the demo workshop at the three sizes, some in the dark theme too, into docs/pictures.

usage: .venv/bin/python tools/pictures.py [NAME …] [--to FOLDER]     NAME: only pages whose name begins so
       .venv/bin/python tools/pictures.py --guide                    those of the guide, into docs/guide/pictures

The demo is made afresh in a temporary folder and served on loopback; nothing of it stays. A picture is the window as a
person sees it, stored with at most 128 colours: paper, ink and one colour need no more. Needs Chromium, with or without its
windows (Debian: chromium or chromium-headless-shell).
"""

from __future__ import annotations

import argparse
import io
import logging
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from PIL import Image
from playwright.sync_api import BrowserContext, Page, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
SIZES = {"tablet": (1180, 820), "upright": (820, 1180), "phone": (390, 844)}  # CSS px, as in CONTRIBUTING
THEMES: Final[tuple[Literal["light", "dark"], ...]] = ("light", "dark")
COLOURS = 128
# The guide's: at tablet size, light, small enough to be fetched beside the text (tests/web/test_guide.py).
GUIDE = (
    "bench",
    "take-in",
    "as-found",
    "plan",
    "plan-stance",
    "plan-both",
    "step",
    "step-blocked",
    "hand-over",
    "rider",
    "shelf",
    "workshop",
)
GUIDE_MOST = 60_000  # bytes
PLAN_BOXES = "?travel=150&pressure=70&spacers=1&offset=44&bead=622&tyre=62"


@dataclass(frozen=True)
class Shot:
    """One page: the name of its files, its address, what is done before the picture, whether it is shot dark too."""

    name: str
    path: str
    do: Callable[[Page], None] | None = None
    dark: bool = False


def down_to(selector: str) -> Callable[[Page], None]:
    """Scroll until something stands at the top."""

    def scroll(page: Page) -> None:
        page.locator(selector).first.evaluate("(e) => scrollTo(0, e.getBoundingClientRect().top + scrollY - 12)")
        page.wait_for_timeout(200)

    return scroll


def find_over(page: Page) -> None:
    """Open the find box over a step, and type."""
    page.locator("[data-find-over]").click()
    page.keyboard.type("fork")
    page.locator("#find-hits [role=option]").first.wait_for()


def shots() -> list[Shot]:
    """The table of pages, filled with the demo's own numbers. A new page gets its line here."""
    from topout.web.access.codes import tidy
    from topout.web.book.models import Bike, Family, Rider
    from topout.web.demo.load import BOTH_JOB, PLAN_JOB
    from topout.web.jobs.desk import up_next
    from topout.web.jobs.records.models import FrozenPlan, Job, Reading, Release
    from topout.web.shelf.models import Tag

    jobs = {job.number: up_next.next_of(job) for job in Job.objects.all()}
    blocked = next(n for n, next_ in jobs.items() if next_.blocked)
    untouched = Job.objects.exclude(readings__stage="as-found").order_by("-number").first()
    ready = next(n for n, next_ in jobs.items() if next_.button == "Hand over")
    done = Release.objects.order_by("-pk").first()
    planned = FrozenPlan.objects.exclude(job__number=PLAN_JOB).order_by("-pk").first()
    reading = Reading.objects.filter(job__number=PLAN_JOB, corrected_by=None, kind="pressure").first()
    own = Tag.objects.filter(job_number=PLAN_JOB).first()
    rider, bike, family, tag = Rider.objects.first(), Bike.objects.first(), Family.objects.first(), Tag.objects.first()
    unit = Job.objects.get(number=PLAN_JOB).unit
    assert untouched and done and planned and reading and rider and bike and unit and family and tag and own
    plan = f"/jobs/{PLAN_JOB}/plan/"
    return [
        Shot("bench", "/", dark=True),
        Shot("take-in", "/jobs/new/"),
        Shot("card", f"/jobs/{PLAN_JOB}/", dark=True),
        Shot("card-plan", f"/jobs/{PLAN_JOB}/", down_to("#plan, #h-plan, main section:nth-of-type(3)")),
        Shot("card-handed-over", f"/jobs/{done.job.number}/"),
        Shot("as-found", f"/jobs/{untouched.number}/readings/as-found/"),
        Shot("correct", f"/jobs/{PLAN_JOB}/correct/{reading.pk}/"),
        Shot("as-left", f"/jobs/{ready}/readings/as-left/"),
        Shot("job-change", f"/jobs/{PLAN_JOB}/change/"),
        Shot("stands", f"/jobs/{PLAN_JOB}/stands/"),
        Shot("papers", f"/jobs/{PLAN_JOB}/papers/"),
        Shot("print-tag", f"/jobs/{PLAN_JOB}/tag/{tidy(own.code)}/"),
        Shot("held", f"/T/{tidy(own.code)}"),
        Shot("rider-new", "/book/riders/new/"),
        Shot("bike-new", f"/book/riders/{rider.pk}/bikes/new/"),
        Shot("bike-change", f"/book/bikes/{bike.pk}/change/"),
        Shot("unit-new", f"/book/bikes/{bike.pk}/units/new/"),
        Shot("family-new", "/book/families/new/"),
        Shot("instruments", "/instruments/"),
        Shot("procedures", "/procedures/"),
        Shot("procedure", "/procedures/winter-look/1/"),
        Shot("procedure-new", "/procedures/new/"),
        Shot("procedures-folder", "/procedures/folder/"),
        Shot("instrument-new", "/instruments/new/"),
        Shot("account-new", "/accounts/new/"),
        Shot("account-change", "/accounts/1/"),
        Shot("workshop", "/workshop/"),
        Shot("code", "/code/?code=K7M4QX-3RTW9C"),
        Shot("password", "/password/"),
        Shot("plan", plan + PLAN_BOXES, dark=True),
        Shot("plan-keeps", plan + PLAN_BOXES, down_to("#part-keeps")),
        Shot("plan-stance", plan + PLAN_BOXES, down_to("#part-stance"), dark=True),
        Shot("plan-table", plan + PLAN_BOXES, down_to("#part-table")),
        Shot("plan-both", f"/jobs/{BOTH_JOB}/plan/", down_to("#part-stance"), dark=True),
        Shot("plan-both-behind", f"/jobs/{BOTH_JOB}/plan/", down_to("#part-behind"), dark=True),
        Shot("questions-behind", f"/jobs/{BOTH_JOB}/questions/?rear_share=28"),
        Shot("plan-fault", plan + PLAN_BOXES.replace("pressure=70", "pressure=7o")),
        Shot("options", f"/jobs/{PLAN_JOB}/options/" + PLAN_BOXES.replace("tyre=62", "tyre=58"), dark=True),
        Shot("options-ask", f"/jobs/{PLAN_JOB}/options/" + PLAN_BOXES.replace("tyre=62", "tyre=58"), down_to("#ask")),
        Shot("options-not", f"/jobs/{PLAN_JOB}/options/" + PLAN_BOXES.replace("tyre=62", "tyre=58"), down_to(".not")),
        Shot("steps", f"/jobs/{PLAN_JOB}/steps/all/"),
        Shot("step", f"/jobs/{PLAN_JOB}/steps/", dark=True),
        Shot("step-find", f"/jobs/{PLAN_JOB}/steps/", find_over),
        Shot("step-blocked", f"/jobs/{blocked}/steps/", dark=True),
        Shot("waits", f"/jobs/{ready}/waits/"),
        Shot("hand-over", f"/jobs/{ready}/hand-over/"),
        Shot("book", "/book/"),
        Shot("rider", f"/book/riders/{rider.pk}/"),
        Shot("rider-change", f"/book/riders/{rider.pk}/change/"),
        Shot("bike", f"/book/bikes/{bike.pk}/"),
        Shot("unit", f"/book/units/{unit.pk}/"),
        Shot("unit-change", f"/book/units/{unit.pk}/change/"),
        Shot("fitted", f"/book/units/{unit.pk}/fitted/"),
        Shot("family", f"/book/families/{family.pk}/"),
        Shot("erase", f"/book/riders/{rider.pk}/erase/"),
        Shot("bench-file-in", f"/book/riders/{rider.pk}/bench-file/"),
        Shot("shelf", "/shelf/"),
        Shot("part", "/shelf/new/"),
        Shot("tag", f"/t/{tag.code}/"),
        Shot("accounts", "/accounts/"),
        Shot("sign-in", "/sign-in/"),
        Shot("how-it-is-kept", "/health/"),
        Shot("nothing-here", "/nothing/"),
    ]


@contextmanager
def demo() -> Iterator[str]:
    """The address of a demo workshop of its own, served until the end."""
    folder = Path(tempfile.mkdtemp(prefix="topout-pictures-"))
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "topout.web.settings",
        "TOPOUT_DATABASE": str(folder / "demo.sqlite3"),
        "TOPOUT_DEMO": "1",
        "TOPOUT_HOSTS": "127.0.0.1",
    }
    sys.path.insert(0, str(ROOT / "src"))
    import django

    django.setup()
    from waitress.server import create_server

    from topout.web.opening import bring_up_to_date, open_workshop
    from topout.web.wsgi import application

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # a browser asks for more than threads at once
    bring_up_to_date()
    open_workshop(True)
    server = create_server(application, host="127.0.0.1", port=0, threads=4)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.close()
        thread.join(timeout=5)
        shutil.rmtree(folder, ignore_errors=True)


def shoot(context: BrowserContext, address: str, shot: Shot, tail: str, to: Path) -> str:
    """One picture; returns what was wrong with the page, empty where nothing was."""
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    answer = page.goto(address + shot.path, wait_until="load")
    page.evaluate("() => document.fonts.ready.then(() => true)")
    page.wait_for_timeout(350)  # the plan page asks once more for drawings of its own width
    if shot.do is not None:
        shot.do(page)
    sideways = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if sideways > 0:
        wrong.append(f"{sideways} px too wide")
    if answer is not None and answer.status >= 400 and shot.name != "nothing-here":
        wrong.append(f"status {answer.status}")
    name = f"{shot.name}-{tail}.png" if tail else f"{shot.name}.webp"
    with Image.open(io.BytesIO(page.screenshot())) as picture:
        if tail:
            flat = picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
            flat.save(to / name, optimize=True)
        else:
            (to / name).write_bytes(small(picture.convert("RGB")))
    page.close()
    return "; ".join(f"{name}: {text}" for text in wrong)


def small(picture: Image.Image) -> bytes:
    """As WebP without loss, which of so few colours is smaller than one with: the full plan page fits no other way."""
    out = io.BytesIO()
    flat = picture.quantize(COLOURS, dither=Image.Dither.NONE).convert("RGB")
    flat.save(out, "webp", lossless=True, method=6)
    if len(out.getvalue()) > GUIDE_MOST:
        raise ValueError(f"a picture of {picture.size} takes {len(out.getvalue())} bytes, more than {GUIDE_MOST}")
    return out.getvalue()


def main() -> int:
    """Shoot what was asked for; ends 1 where a page was at fault."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else "")
    parser.add_argument("names", nargs="*", help="only pages whose name begins so")
    parser.add_argument("--to", type=Path, help="folder, default docs/pictures, of the guide docs/guide/pictures")
    parser.add_argument("--guide", action="store_true", help="the guide’s own, one size, small")
    given = parser.parse_args()
    given.to = given.to or ROOT / "docs" / ("guide/pictures" if given.guide else "pictures")
    given.to.mkdir(parents=True, exist_ok=True)
    begun, count, wrong = time.monotonic(), 0, []
    chromium = next((path for path in map(shutil.which, ("chromium", "chromium-headless-shell")) if path), None)
    with demo() as address:
        pages = shots()  # before the driver's loop, in which Django asks for no database
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
            wanted = [s for s in pages if not given.names or any(s.name.startswith(name) for name in given.names)]
            if given.guide:
                wanted = [s for s in wanted if s.name in GUIDE]
            for size, (width, height) in list(SIZES.items())[: 1 if given.guide else None]:
                for theme in THEMES[: 1 if given.guide else None]:
                    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=theme)
                    for shot in wanted:
                        if theme == "dark" and not shot.dark:
                            continue
                        tail = "" if given.guide else size + ("-dark" if theme == "dark" else "")
                        fault = shoot(context, address, shot, tail, given.to)
                        count += 1
                        if fault:
                            wrong.append(fault)
                    context.close()
            browser.close()
    print(f"{count} pictures in {time.monotonic() - begun:.0f} s, in {given.to}")
    for fault in wrong:
        print(fault, file=sys.stderr)
    return 1 if wrong or not count else 0


if __name__ == "__main__":
    raise SystemExit(main())
