"""The first hour of a workshop, by one command: installed in a bare Debian, opened, worked in, copied, put back elsewhere.

usage: .venv/bin/python tools/first_hour.py [TREE] [--by make|pipx] [--to FOLDER] [--bind FOLDER …]

TREE is a folder tree of a bare Debian, made as root with `debootstrap --variant=minbase bookworm TREE`; it is changed, so give
it one of its own. Without it the command of this checkout runs here, in an empty home. In the tree an account of its own
installs by `make install` in a copy of the checkout, or a wheel of it by pipx. What is mounted there ends with each command.
`--bind` names a folder that pip's own settings on this machine lead to.

A browser of this machine, at a tablet's size, opens the workshop by another loopback address than the usual one, 127.0.0.2, and
goes through its pages alone: first account, questions of the first start, a technician's one-time code, a gauge, one job from
take-in to the sheet. Then `topout backup` while it is open, `topout restore` into a new folder, `topout verify` of both, and
the sheet once more from what was put back, byte for byte. A picture of each page goes into FOLDER. Ends 1 where anything is
not as it should be, with the reason.
"""

from __future__ import annotations

import argparse
import http.client
import os
import re
import shlex
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Locator, Page, sync_playwright
from playwright.sync_api import Error as PlaywrightError

ROOT = Path(__file__).resolve().parent.parent
TABLET = (1180, 820)
THERE, ELSEWHERE = "127.0.0.2", "127.0.0.3"
WHO = "bench"  # the account in the tree
HOME = Path("/home") / WHO
OWNER, TECHNICIAN = ("mo", "Mo Tarn"), ("jory", "Jory Pask")
PASSWORD = "a fork is not a spoon"
PASSED_ON = re.compile(r"PIP_.*|UV_.*|.*_proxy|.*_PROXY|SSL_CERT_FILE|REQUESTS_CA_BUNDLE")

RIDER, BIKE, FORK = "Ilsé Varn", "Trail bike, large", "Long fork"
BOOK = {  # what the charts and the scale say, by the boxes of the Book
    "rider": {"rider-mass": "79 kg", "rider-front_share": "0.41"},
    "bike": {
        "bike-mass": "14.6 kg", "bike-unsprung_front": "3.0 kg", "frame-head_angle": "65.8 deg", "frame-seat_angle": "76.6 deg",
        "frame-reach": "461 mm", "frame-stack": "628 mm", "frame-chainstay": "436 mm", "frame-bb_drop": "30 mm",
        "frame-fork_length": "546 mm", "frame-fork_offset": "44 mm", "frame-front_radius": "369 mm", "frame-rear_radius": "369 mm",
        "front_wheel-bead_seat": "622 mm", "front_wheel-tyre_height": "58 mm", "rear_wheel-bead_seat": "622 mm",
        "rear_wheel-tyre_height": "58 mm",
    },
    "unit": {
        "fork-length": "546 mm", "fork-offset": "44 mm", "fork-travel": "150 mm", "fork-tyre_room": "536 mm",
        "fork-overtravel": "3 mm", "fork-air-bore": "34 mm", "fork-air-shaft": "10 mm", "fork-air-positive_volume": "238 ml",
        "fork-air-negative_volume": "48 ml", "fork-air-port_position": "3 mm", "fork-air-spacers": "1",
        "fork-air-spacer_volume": "8 ml", "fork-air-oil_on_piston": "4 ml", "fork-air-pressure": "70 psi",
        "fork-air-pressure_limit": "120 psi",
    },
}  # fmt: skip
FOUND = {
    "pressure": "70", "temperature": "18", "spacers": "1", "rebound": "9", "rebound-of": "18", "exposed-length": "171",
}  # fmt: skip
SET = {"spacers": "2", "pressure": "73"}
AT_THE_STEPS = {  # what only the fork can tell
    "found-pressure": "70", "found-temperature": "18", "exposed-length": "171", "found-axle-to-crown": "541", "rebound-clicks": "9",
    "rebound-range": "18", "compression-clicks": "4", "rest-drawn-in": "0", "rebound-follows": "9", "left-rebound": "9",
    "left-compression": "4",
}  # fmt: skip

TAKEN_OVER = ("htmx:sendAbort", "htmx:afterRequest")  # what the plan page asked for before the next box was typed


class Wrong(Exception):
    """What is not as it should be."""


@dataclass
class Place:
    """Where the program runs: a tree, or this machine; in a home that was empty."""

    tree: Path | None
    home: Path  # as this machine sees it
    binds: tuple[Path, ...] = ()
    command: str = ""  # of topout, as the place sees it

    def inside(self, path: Path) -> str:
        """A path of this machine as the place sees it."""
        return str(path) if self.tree is None else f"/{path.relative_to(self.tree)}"

    def line(self, *words: str, root: bool = False) -> list[str]:
        """A command as this machine starts it. The same process all the way, so that ending it ends the command."""
        home = "/root" if root and self.tree else self.inside(self.home)
        passed = {name: value for name, value in os.environ.items() if PASSED_ON.fullmatch(name)}
        env = {
            **passed,
            "HOME": home,
            "PATH": os.environ["PATH"],
            "LANG": "C.UTF-8",
            "DEBIAN_FRONTEND": "noninteractive",
        }
        clean = ["env", "-i", *(f"{name}={value}" for name, value in env.items())]
        if self.tree is None:
            return [*clean, *words]
        account = [] if root else [f"--userspec={WHO}:{WHO}"]
        chroot = shlex.join(["chroot", *account, str(self.tree), *clean, "sh", "-c", 'cd && exec "$@"', "sh", *words])
        mounts = [
            f"mount -t proc proc {shlex.quote(str(self.tree / 'proc'))}",
            f"mount --rbind /dev {shlex.quote(str(self.tree / 'dev'))}",
        ]
        for folder in self.binds:
            target = self.tree / folder.relative_to("/")
            mounts.append(f"mount --bind -o ro {shlex.quote(str(folder))} {shlex.quote(str(target))}")
        return ["unshare", "--mount", "--propagation", "private", "sh", "-ec", "; ".join([*mounts, f"exec {chroot}"])]

    def run(self, *words: str, root: bool = False, status: int = 0) -> str:
        """What a command prints; raises Wrong where it ends otherwise."""
        done = subprocess.run(self.line(*words, root=root), capture_output=True, text=True, check=False)
        if done.returncode != status:
            raise Wrong(f"{shlex.join(words)} ended {done.returncode}:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        return done.stdout

    def topout(self, *words: str) -> str:
        return self.run(self.command, *words)

    @contextmanager
    def serving(self, *words: str) -> Iterator[str]:
        """What the start says until it serves, while it does."""
        process = subprocess.Popen(
            self.line(self.command, "serve", *words), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        said = []
        try:
            assert process.stdout is not None
            for row in process.stdout:
                said.append(row)
                if row.startswith("Ctrl-C"):
                    break
            else:
                raise Wrong(f"topout serve {shlex.join(words)} ended:\n{''.join(said)}")
            yield "".join(said)
        finally:
            process.terminate()
            process.wait(20)
            if process.stdout is not None:
                process.stdout.close()


def prepared(place: Place, by: str) -> None:
    """An account in the tree, and what this machine needs to fetch packages: its names, certificates and pip's settings."""
    assert place.tree is not None
    if not (place.tree / "etc" / "debian_version").exists():
        raise Wrong(f"{place.tree}: no Debian tree. debootstrap --variant=minbase bookworm {place.tree} makes one.")
    for path in map(Path, ("/etc/resolv.conf", "/etc/hosts", "/etc/pip.conf", "/etc/ssl/certs/ca-certificates.crt")):
        if path.exists():
            target = place.tree / path.relative_to("/")
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target)
    for folder in place.binds:
        (place.tree / folder.relative_to("/")).mkdir(parents=True, exist_ok=True)
    if (place.home / ".local" / "share" / "topout").exists():
        raise Wrong(f"{place.home}: a workshop lies there already. Give it a tree of its own.")
    if not (place.tree / HOME.relative_to("/")).exists():
        place.run("useradd", "--create-home", WHO, root=True)
    settings = Path.home() / ".config" / "pip" / "pip.conf"
    if settings.exists():
        target = place.home / ".config" / "pip" / "pip.conf"
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(settings, target)
        place.run("chown", "-R", f"{WHO}:{WHO}", str(HOME / ".config"), root=True)
    place.run("apt-get", "-qq", "update", root=True)
    wanted = ("git", "make", "python3", "python3-venv") if by == "make" else ("pipx",)
    place.run("apt-get", "-qq", "install", "--no-install-recommends", "-y", *wanted, root=True)


def installed(place: Place, by: str) -> str:
    """Install the program as README says to an owner. Returns its version's line."""
    if place.tree is None:
        place.command = str(ROOT / ".venv" / "bin" / "topout")
        return place.topout("-V")
    prepared(place, by)
    if by == "make":
        checkout = place.home / "topout"
        checkout.mkdir(exist_ok=True)
        archive = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, check=True, capture_output=True).stdout
        subprocess.run(["tar", "-x", "-C", str(checkout)], input=archive, check=True)
        place.run("chown", "-R", f"{WHO}:{WHO}", f"{HOME}/topout", root=True)
        place.run("make", "-C", f"{HOME}/topout", "install")
        place.command = f"{HOME}/topout/.venv/bin/topout"
    else:
        with tempfile.TemporaryDirectory() as folder:
            build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder]
            subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
            (wheel,) = Path(folder).glob("*.whl")
            shutil.copy(wheel, place.home)
        place.run("pipx", "install", "--force", f"{HOME}/{wheel.name}")
        place.command = f"{HOME}/.local/bin/topout"
    return place.topout("-V")


@dataclass
class Tablet:
    """One person's browser, and the pictures of what it showed."""

    context: BrowserContext
    here: str
    to: Path
    faults: list[str] = field(default_factory=list)
    number: str = ""

    def __post_init__(self) -> None:
        self.page: Page = self.context.new_page()
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.on("console", lambda said: self._console(said.type, said.text))
        self.page.on("response", lambda a: self.faults.append(f"{a.status} {a.url}") if a.status >= 400 else None)
        self.page.on("request", lambda asked: self._elsewhere(asked.url))

    def _console(self, kind: str, text: str) -> None:
        if kind == "error" and not text.startswith(TAKEN_OVER):
            self.faults.append(text)

    def _elsewhere(self, url: str) -> None:
        if not url.startswith((self.here, "data:", "about:")):
            self.faults.append(f"asked elsewhere: {url}")

    def go(self, path: str) -> None:
        self.page.goto(path if path.startswith("http") else self.here + path)

    def write(self, **boxes: str) -> None:
        self.fill(boxes)

    def fill(self, boxes: dict[str, str]) -> None:
        for name, text in boxes.items():
            box = self.page.locator(f'main [name="{name}"]:not([type=hidden])').first
            box.tap()
            box.fill(text)

    def choose(self, name: str, value: str) -> None:
        self.page.locator(f'main label:has([name="{name}"][value="{value}"])').first.tap()

    def lead(self, role: str, name: str, exact: bool = True) -> None:
        """Tap what leads to another page."""
        place = self.page.locator("main").get_by_role(role, name=name, exact=exact)  # type: ignore[arg-type]
        if not place.count():
            self.picture("stuck")
            raise Wrong(f"{self.page.url} has no {role} “{name}”: {self.page.inner_text('main')}")
        self.leaves(place.first)
        if self.page.locator("#faults").count():
            raise Wrong(f"{self.page.url}: {self.page.locator('#faults').inner_text()}")

    def leaves(self, place: Locator) -> None:
        """Tap it, and wait for another document: the plan page changes its own address meanwhile, which is none."""
        self.page.evaluate("window.before = true")
        place.tap()
        until = time.monotonic() + 60
        while time.monotonic() < until:
            with suppress(PlaywrightError):  # a document that is going answers nothing
                if not self.page.evaluate("window.before"):
                    self.page.wait_for_load_state()
                    return
            self.page.wait_for_timeout(50)
        self.picture("stuck")
        raise Wrong(f"{self.page.url}: nothing came of the tap")

    def press(self, name: str, exact: bool = False) -> None:
        self.lead("button", name, exact)

    def follow(self, name: str) -> None:
        self.lead("link", name)

    def shows(self, *words: str) -> None:
        """The page says all of this, and fits the screen."""
        said = re.sub(r"[\s\u00a0]+", " ", self.page.inner_text("body"))
        missing = [each for each in words if each not in said]
        if missing:
            raise Wrong(f"{self.page.url} does not say {missing}: {said[:2000]}")
        wide = self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if wide > 0:
            raise Wrong(f"{self.page.url} is {wide} px too wide")

    def picture(self, name: str) -> None:
        self.page.evaluate("document.fonts.ready.then(() => true)")
        nth = len(list(self.to.glob("*.png"))) + 1
        self.page.screenshot(path=self.to / f"{nth:02}-{name}.png")


def first_start(owner: Tablet, said: str) -> str:
    """The owner's account and the questions of the first start. Returns the technician's address with its code."""
    code = re.findall(r"http://\S+/start/\?code=\S+", said)
    if not code:
        raise Wrong(f"the start names no address for the first account:\n{said}")
    owner.go(code[0])
    owner.write(name=OWNER[0], person=OWNER[1], password=PASSWORD)
    owner.picture("first-account")
    owner.press("Make the account")
    owner.write(name="Kiln Row", altitude="210", time_zone="Europe/Dublin", currency="EUR", people=TECHNICIAN[1])
    owner.picture("workshop-set-up")
    owner.press("Open the workshop")
    owner.shows(TECHNICIAN[1], "One-time code")
    owner.picture("accounts-with-code")
    given = owner.page.locator('td[data-name="code"] .note').inner_text()
    owner.go("/workshop/")
    owner.shows("Kiln Row", "not encrypted")
    owner.page.locator("#kept").scroll_into_view_if_needed()
    owner.picture("workshop-how-it-is-kept")
    owner.go("/instruments/")
    owner.follow("Add an instrument")
    owner.write(code="P2", name="blue pump", span="300 psi", mark="1 psi", accuracy="1.6")
    kind = owner.page.locator('main [name="kind"]:not([type=hidden])')
    if kind.first.get_attribute("type") == "radio":
        owner.choose("kind", "gauge")
    else:
        owner.fill({"kind": "pressure gauge"})
    owner.picture("gauge")
    owner.press("Add it")
    owner.shows("blue pump")
    owner.picture("gauges")
    return given.replace("\n", "").strip()


def set_password(technician: Tablet, address: str) -> None:
    technician.go(address)
    technician.write(password=PASSWORD)
    technician.picture("password-by-code")
    technician.press("Set it and sign in")
    technician.shows("Nothing is on the bench")
    technician.picture("empty-bench")


def take_in(technician: Tablet) -> None:
    technician.follow("Take in a job")
    technician.write(
        rider_name=RIDER, bike_name=BIKE, unit_name=FORK, asked_title="one spacer more", asked="Bottoms out on drops.", promised="tomorrow 16:30"
    )  # fmt: skip
    technician.choose("procedure", "pressure-and-spacers")
    technician.picture("take-in")
    technician.press("Take it in")
    technician.number = re.findall(r"/jobs/(\d+)/", technician.page.url)[0]
    technician.picture("card")


def fill_the_book(technician: Tablet) -> None:
    card = f"/jobs/{technician.number}/"
    for name, what in ((BIKE, "bike"), (RIDER, "rider"), (FORK, "unit")):
        technician.go(card)
        technician.follow(name)
        technician.follow("Change")
        technician.fill(BOOK[what])
        technician.press("Save the")
        technician.picture(f"book-{what}")
    technician.go(card)


def read_as_found(technician: Tablet) -> None:
    technician.follow("Write down how it was")
    technician.fill(FOUND)
    technician.picture("as-found")
    technician.press("Save what was read")
    technician.shows("70 psi")


def plan(technician: Tablet) -> None:
    technician.follow("Open the plan")
    technician.fill(SET)
    technician.page.locator("#answered[value*='pressure=73'][value*='spacers=2']").wait_for(state="attached")
    technician.shows("Set 73 psi")
    technician.picture("plan")
    technician.press("Use this plan")
    technician.shows("The plan is in use. Set 73 psi")
    technician.picture("plan-in-use")


def steps(technician: Tablet) -> int:
    """Every step by its page, one at a time; what to expect is read off it. Returns how many were signed."""
    page, signed = technician.page, 0
    technician.go(f"/jobs/{technician.number}/steps/")
    technician.press("Begin")
    technician.picture("steps-as-a-list")
    technician.press("One step a page")
    for _ in range(80):
        place = page.url.removeprefix(technician.here)
        if "/steps/" not in place or place.endswith(("/steps/", "/steps/all/")):
            technician.picture("steps-done")
            return signed
        page.evaluate("document.getElementById('reading')?.removeAttribute('data-moves-on')")
        boxes, seen = page.locator("#reading input:not([type=hidden])"), set()
        for nth in range(boxes.count()):
            box = boxes.nth(nth)
            name, kind = str(box.get_attribute("name")), box.get_attribute("type")
            if name in seen or name == "gauge":
                continue
            seen |= {name, name.removeprefix("card-")}
            if kind in ("checkbox", "radio"):
                identity = box.get_attribute("id")
                (page.locator(f'label[for="{identity}"]').or_(page.locator(f'label:has([id="{identity}"])')).first if identity else box).tap()  # fmt: skip
            elif kind == "file":
                raise Wrong(f"{place} asks for a photo")
            else:
                box.fill(AT_THE_STEPS.get(name) or wanted(technician, name))
        if signed in (0, 5):
            technician.picture(f"step-{signed + 1}")
        technician.leaves(page.locator("#note"))
        if page.url.removeprefix(technician.here) == place:
            technician.picture("step-refused")
            raise Wrong(f"{place}: {page.inner_text('main')[:1500]}")
        signed += 1
    raise Wrong("the steps have no end")


def wanted(technician: Tablet, name: str) -> str:
    """What the page says to expect."""
    said = technician.page.locator(".want .v")
    if not said.count():
        technician.picture("step-unknown")
        raise Wrong(f"{technician.page.url} says of {name} no value to expect")
    return said.first.inner_text().strip()


def hand_over(technician: Tablet) -> bytes:
    """Release the job. Returns the bytes of its sheet."""
    technician.go(f"/jobs/{technician.number}/hand-over/")
    technician.write(next_service="after 50 hours of riding")
    technician.page.locator("label:has(input[name=fit_to_ride])").first.tap()
    technician.picture("hand-over")
    technician.press("Check it over")
    technician.picture("hand-over-check")
    technician.press(f"Release job {technician.number}")
    technician.shows(f"Job {technician.number} is handed over.")
    technician.picture("handed-over")
    technician.follow("Set-up sheet and tags")
    technician.picture("papers")
    return sheet_of(technician)


def sheet_of(tablet: Tablet) -> bytes:
    answer = tablet.context.request.get(f"{tablet.here}/jobs/{tablet.number}/sheet.pdf")
    if not answer.ok or answer.headers["content-type"] != "application/pdf":
        raise Wrong(f"the sheet: {answer.status} {answer.headers.get('content-type')}")
    return answer.body()


def copied_and_put_back(place: Place) -> Path:
    """A copy while the workshop is open, put back in a new folder, both looked at. Returns the folder."""
    stick, new = place.home / "stick", place.home / "elsewhere"
    place.run("mkdir", place.inside(stick))
    print(place.topout("backup", place.inside(stick)).rstrip())
    (copy,) = stick.glob("topout-*-asked.zip")
    print(place.topout("restore", place.inside(copy), "--data", place.inside(new)).rstrip())
    for words in ((place.inside(copy),), ("--data", place.inside(new))):
        said = place.topout("verify", *words)
        if "All is as it was saved." not in said:
            raise Wrong(f"topout verify {words}: {said}")
    print(said.rstrip())
    return new


def from_what_was_put_back(browser: Browser, place: Place, new: Path, number: str, to: Path) -> bytes:
    """The sheet as the workshop that was put back gives it, to its owner."""
    port = free_port(ELSEWHERE)
    with place.serving("--data", place.inside(new), "--bind", ELSEWHERE, "--port", str(port)):
        owner = tablet(browser, f"http://{ELSEWHERE}:{port}", to)
        owner.number = number
        owner.go("/")
        owner.write(name=OWNER[0], password=PASSWORD)
        owner.press("Sign in")
        owner.go(f"/jobs/{number}/")
        owner.shows(RIDER, "73 psi")
        owner.picture("card-put-back")
        got = sheet_of(owner)
        no_faults(owner)
        owner.context.close()
    return got


def no_faults(*tablets: Tablet) -> None:
    for each in tablets:
        if each.faults:
            raise Wrong(f"{each.page.url}: {each.faults}")


def tablet(browser: Browser, here: str, to: Path) -> Tablet:
    size = {"width": TABLET[0], "height": TABLET[1]}
    return Tablet(browser.new_context(viewport=size, has_touch=True, locale="en-GB"), here, to)  # type: ignore[arg-type]


def free_port(address: str) -> int:
    with socket.socket() as probe:
        probe.bind((address, 0))
        return int(probe.getsockname()[1])


def refused(address: str, port: int, host: str) -> int:
    """The status that the workshop answers a browser with that asks for it by this host."""
    wire = http.client.HTTPConnection(address, port, timeout=20)
    wire.request("GET", "/sign-in/", headers={"Host": host})
    status = wire.getresponse().status
    wire.close()
    return status


def hour(place: Place, by: str, to: Path) -> None:
    """All of it, each part with the seconds it took."""
    begun = time.monotonic()

    def took(what: str) -> None:
        nonlocal begun
        print(f"{time.monotonic() - begun:7.1f} s  {what}", flush=True)
        begun = time.monotonic()

    version = installed(place, by).strip()
    took(f"{version} is installed by {by if place.tree else 'this checkout'}")
    chromium = next((path for path in map(shutil.which, ("chromium", "chromium-headless-shell")) if path), None)
    port = free_port(THERE)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        with place.serving("--bind", THERE, "--port", str(port)) as said:
            took(f"the first start serves at {THERE}")
            asked = {host: refused(THERE, port, host) for host in (f"{THERE}:{port}", "evil.example", "192.0.2.7")}
            if list(asked.values()) != [200, 400, 400]:
                raise Wrong(f"asked by these hosts it answered {asked}")
            owner, technician = (tablet(browser, f"http://{THERE}:{port}", to) for _ in range(2))
            address = first_start(owner, said)
            took("first account, questions of the start, a gauge")
            set_password(technician, address)
            for part in (take_in, fill_the_book, read_as_found, plan):
                part(technician)
            took("a technician by one-time code; take-in, Book, as found, plan")
            signed = steps(technician)
            took(f"{signed} steps signed")
            sheet = hand_over(technician)
            (to / "sheet.pdf").write_bytes(sheet)
            took(f"released; the sheet has {len(sheet)} bytes")
            new = copied_and_put_back(place)
            took("copied while open, put back elsewhere, both looked at")
            no_faults(owner, technician)
        again = from_what_was_put_back(browser, place, new, technician.number, to)
        browser.close()
    if again != sheet:
        raise Wrong(f"the sheet from what was put back is another: {sha256(again).hexdigest()}")
    took(f"the same sheet from what was put back, SHA-256 {sha256(again).hexdigest()[:16]}…")


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("tree", nargs="?", type=Path, metavar="TREE", help="a bare Debian; default: this machine")
    parser.add_argument("--by", choices=("make", "pipx"), default="make", help="how it is installed in the tree")
    parser.add_argument("--to", type=Path, help="folder of the pictures (default: a new one, which is named)")
    parser.add_argument("--bind", type=Path, action="append", default=[], help="a folder that pip’s settings lead to")
    given = parser.parse_args()
    to = given.to or Path(tempfile.mkdtemp(prefix="topout-first-hour-"))
    to.mkdir(parents=True, exist_ok=True)
    for old in to.glob("*.png"):
        old.unlink()
    if given.tree is not None and os.geteuid() != 0:
        parser.error("a tree is entered as root")
    with tempfile.TemporaryDirectory(prefix="topout-home-") as home:
        tree = given.tree.absolute() if given.tree else None
        place = Place(tree, tree / HOME.relative_to("/") if tree else Path(home), tuple(given.bind))
        try:
            hour(place, given.by, to)
        except Wrong as wrong:
            print(wrong, file=sys.stderr)
            return 1
        except PlaywrightError as stuck:
            print(f"the browser: {stuck}", file=sys.stderr)
            return 1
        finally:
            print(f"Pictures: {to}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
