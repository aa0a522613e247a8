"""A photo is drawn before the transaction, one at a time, in a process that takes 400 MB at most; other saves go on."""

from __future__ import annotations

import functools
import io
import itertools
import os
import re
import struct
import subprocess
import sys
import threading
import time
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from django.test import Client
from PIL import Image

from topout.web.access.models import Workshop
from topout.web.demo.load import PLAN_JOB
from topout.web.jobs.readings import draw, photos
from topout.web.jobs.records.models import Job, Photo
from web import people
from web.addresses import all_addresses
from web.plan_cast import hollin_job
from web.shared import DRAW_ANEW

MB = 1_000_000
LONGEST_SIDE_PX, AT_ONCE, IN_LINE = 2400, 8, 4  # one is drawn, three wait


@pytest.fixture(autouse=True)
def drawn_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here the drawing itself is tried: nothing of it is remembered."""
    monkeypatch.setattr(photos, "draw_anew", DRAW_ANEW)


def png(width: int, height: int, depth: int = 8, kind: int = 2, points: int = 3) -> bytes:
    """A PNG of one colour, however large it claims and is; small as a file."""

    def part(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    # Rows of zeros are all alike: some are packed once, to a point where the packer starts anew, and laid down over and over.
    some = next(n for n in range(100, 0, -1) if height % n == 0)
    rows, packer = b"\0" * ((1 + width * points) * some), zlib.compressobj(1, wbits=-15)
    block, end = packer.compress(rows) + packer.flush(zlib.Z_FULL_FLUSH), packer.flush()
    check = functools.reduce(lambda so_far, _: zlib.adler32(rows, so_far), range(height // some), 1)
    body = b"\x78\x01" + block * (height // some) + end + struct.pack(">I", check)
    palette = part(b"PLTE", b"\0" * 768) if kind == 3 else b""
    head = part(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + palette + part(b"IDAT", body) + part(b"IEND", b"")


def made(kind: str, size: tuple[int, int], mode: str = "RGB", **more: object) -> bytes:
    out = io.BytesIO()
    Image.new(mode, size).save(out, kind, **more)
    return out.getvalue()


LARGEST = (8000, 6250)  # 50 million points
HOSTILE: dict[str, Callable[[], bytes]] = {
    "rgb": lambda: png(*LARGEST), "rgba": lambda: png(*LARGEST, kind=6, points=4), "16 bits": lambda: png(*LARGEST, depth=16, points=6),
    "rgba of 16 bits": lambda: png(*LARGEST, depth=16, kind=6, points=8), "palette": lambda: png(*LARGEST, kind=3, points=1),
    "grey of 16 bits": lambda: png(*LARGEST, depth=16, kind=0, points=2), "grey and alpha": lambda: png(*LARGEST, kind=4, points=2),
    "progressive": lambda: made("JPEG", LARGEST, progressive=True, subsampling=0), "webp": lambda: made("WEBP", (6000, 4000), method=0),
    "larger by a point": lambda: png(8001, 6250), "200 million points": lambda: png(20_000, 10_000),
}  # fmt: skip
EACH_DAY = (
    "rgba",
    "rgba of 16 bits",
    "grey and alpha",
    "larger by a point",
    "200 million points",
)  # the others in the soak
REFUSED = ("larger by a point", "200 million points")  # whatever else a machine can draw within its memory
FROM_A_PHONE: dict[str, Callable[[], bytes]] = {
    "12 million points": lambda: made("JPEG", (4000, 3000)), "50 million points": lambda: made("JPEG", LARGEST),
    "progressive": lambda: made("JPEG", (4000, 3000), progressive=True), "a screen": lambda: png(1080, 2400, kind=6, points=4),
    "webp": lambda: made("WEBP", (4000, 3000), method=0), "png": lambda: png(4000, 3000),
}  # fmt: skip
# The peak of the process itself, as the kernel counts it: what `wait4` says holds the peak of the process that forked.
PEAK = """
import runpy, sys
try:
    runpy.run_path(sys.argv[1], run_name="__main__")
finally:
    with open("/proc/self/status") as status:
        sys.stderr.write(next(line.split()[1] for line in status if line.startswith("VmHWM")))
"""


@pytest.fixture
def job(cast: people.Cast) -> Job:
    return hollin_job(cast.technician)


def place(job: Job) -> str:
    return f"/jobs/{job.number}/readings/as-left/"


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read from /proc")
@pytest.mark.parametrize(
    "what",
    [
        *(name if name in EACH_DAY else pytest.param(name, marks=pytest.mark.soak) for name in HOSTILE),
        *(f"phone: {name}" for name in FROM_A_PHONE if name != "50 million points"),
        pytest.param("phone: 50 million points", marks=pytest.mark.soak),
    ],
)
def test_one_photo_takes_400_mb_at_most(what: str) -> None:
    data = HOSTILE[what]() if what in HOSTILE else FROM_A_PHONE[what.removeprefix("phone: ")]()
    done = subprocess.run(
        [sys.executable, "-I", "-c", PEAK, draw.__file__], input=data, capture_output=True, timeout=60
    )
    assert done.returncode == 0
    assert int(done.stderr) * 1024 <= 400 * MB, f"{int(done.stderr) * 1024 / MB:.0f} MB"
    kind, width, height = draw.HEAD.unpack_from(done.stdout)
    if what not in HOSTILE:
        assert kind == b"D" and max(width, height) <= LONGEST_SIDE_PX
    elif kind == b"R" or what in REFUSED:
        assert kind == b"R"
        assert "lower setting" in done.stdout[draw.HEAD.size :].decode()


def test_the_process_is_held_to_its_memory_and_time() -> None:
    """Whatever a decoder does: the limits are the system's, not Pillow's."""
    code = (
        "import runpy, resource; draw = runpy.run_path(__import__('sys').argv[1]); draw['_bound']();"
        "print(resource.getrlimit(resource.RLIMIT_AS)[0], resource.getrlimit(resource.RLIMIT_CPU)[0])"
    )
    done = subprocess.run([sys.executable, "-I", "-c", code, draw.__file__], capture_output=True, text=True, check=True)
    memory, seconds = map(int, done.stdout.split())
    assert memory <= 400 * MB and seconds <= 10


@pytest.mark.parametrize("breaks", ["dies", "hangs", "says nothing"])
def test_a_process_that_breaks_is_a_refusal(breaks: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    program = tmp_path / "draw.py"
    program.write_text(
        {"dies": "import os; os.abort()", "hangs": "import time; time.sleep(60)", "says nothing": ""}[breaks]
    )
    monkeypatch.setattr(draw, "__file__", str(program))
    monkeypatch.setattr(photos, "DRAWING_S", 0.5)
    with pytest.raises(ValidationError, match="more memory or time"):
        photos.draw_anew(b"x")


def test_photos_are_drawn_one_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    running, most, counted = 0, 0, threading.Lock()

    def slow(*given: object, **more: object) -> subprocess.CompletedProcess[bytes]:
        nonlocal running, most
        with counted:
            running += 1
            most = max(most, running)
        time.sleep(0.02)
        with counted:
            running -= 1
        return subprocess.CompletedProcess([], 0, draw.HEAD.pack(b"D", 1, 1) + b"jpeg")

    monkeypatch.setattr(subprocess, "run", slow)
    work = [threading.Thread(target=photos.draw_anew, args=(b"x",)) for _ in range(8)]
    for thread in work:
        thread.start()
    for thread in work:
        thread.join()
    assert most == 1


def test_more_than_may_wait_are_told_to_come_again(technician_in: Client, job: Job) -> None:
    for _ in range(IN_LINE):
        assert photos._in_line.acquire(blocking=False)
    try:
        form = {"photos": SimpleUploadedFile("a.jpg", made("JPEG", (8, 8))), "photos-of": "x"}
        assert people.send(technician_in, place(job), form).status_code == 503
        assert people.send(technician_in, place(job), {"rebound": "7", "rebound-of": "14"}).status_code == 303
    finally:
        for _ in range(IN_LINE):
            photos._in_line.release()
    assert not Photo.objects.exists()


def test_every_form_that_takes_a_photo_has_it_drawn_before_its_transaction(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every address, asked for its form; each box for a picture is sent one. Where a view forgot, its box has nothing."""
    Workshop.objects.update(demo=False)
    from django.contrib.auth.models import User

    drawn = []

    def outside(data: bytes) -> photos.Drawn:
        assert not connection.in_atomic_block, "others wait behind this transaction"
        drawn.append(len(data))
        return photos.Drawn(b"jpeg", 1, 1)

    monkeypatch.setattr(photos, "draw_anew", outside)
    client = people.browser(User.objects.get(username="maud"))
    numbers = itertools.count()
    takers = set()
    places = dict(all_addresses())
    places["readings as left"] = f"/jobs/{PLAN_JOB}/readings/as-left/"
    places |= {
        f"steps of {number}": f"/jobs/{number}/steps/" for number in Job.objects.values_list("number", flat=True)
    }
    for name, address in places.items():
        page = client.get(address, follow=True)
        text = page.content.decode("utf-8", "replace")
        for tag in re.findall(r"<input[^>]*type=\"file\"[^>]*>", text):
            if "image/" not in tag:
                continue
            box = re.search(r'name="([^"]+)"', tag)
            assert box is not None
            where = page.request["PATH_INFO"]
            before = len(drawn)
            data = {"csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken"), "change_key": f"photo-{next(numbers)}",
                    box[1]: SimpleUploadedFile("a.jpg", b"x" * 10)}  # fmt: skip
            client.post(where, data)
            assert len(drawn) == before + 1, (name, where)
            takers.add(where)
    assert len(takers) >= 2, "readings as found, and a step"


@pytest.mark.alone
@pytest.mark.usefixtures("durable")
def test_no_other_save_waits_while_photos_are_drawn(technician_in: Client, job: Job, workshop: Path) -> None:
    """Eight hostile pictures in one form; meanwhile somebody else writes, over and over."""
    data_of_one = png(*LARGEST)
    bad = [SimpleUploadedFile(f"{n}.png", data_of_one) for n in range(AT_ONCE)]
    page = technician_in.get(place(job))
    base = {"csrfmiddlewaretoken": people.field_of(page, "csrfmiddlewaretoken")}
    cookies = technician_in.cookies
    answers = []

    def upload() -> None:
        client = Client(enforce_csrf_checks=True, SERVER_NAME="localhost")
        client.cookies = cookies
        answers.append(
            client.post(place(job), {**base, "change_key": "eight", "photos": bad, "photos-of": "x"}).status_code
        )
        connections.close_all()

    thread = threading.Thread(target=upload)
    thread.start()
    waits: list[float] = []
    while thread.is_alive():
        began = time.perf_counter()
        data = {**base, "change_key": f"m-{len(waits)}", "words": f"part {len(waits)}"}
        assert technician_in.post(f"/jobs/{job.number}/waits/", data).status_code == 303
        waits.append(time.perf_counter() - began)
        time.sleep(0.02)
    thread.join()
    assert answers == [303] and Photo.objects.count() == AT_ONCE
    assert len(waits) > 10
    print(f"longest save of {len(waits)} while eight photos were drawn: {max(waits) * 1e3:.0f} ms")
    assert max(waits) < 0.3 or os.getloadavg()[0] > 3, max(waits)
