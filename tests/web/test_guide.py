"""The guide: every page opens and reads plainly, every page of the workshop leads to it, and what it tells people to do works."""

from __future__ import annotations

import ast
import io
import re
import shlex
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from django.test import override_settings
from django.urls import reverse
from PIL import Image

import topout
import warm
from topout import shipped
from topout.cli import options
from topout.physics import gas
from topout.planner import held_in, judge, limits, typical
from topout.planner.facts import KEEPS
from topout.planner.options import broken
from topout.units import from_si, to_si
from topout.web import environment, storage
from topout.web.backup import at_start, witness
from topout.web.guide import pages, views
from topout.web.jobs.options import page as options_page
from topout.web.workshop import parts
from web import addresses, people
from web.browser import words
from web.browser.looks import NO_PAGE
from web.shared import using_file

MOST = 150_000
PICTURE_MOST = 60_000
# Addresses of the workshop that show a page no page of the guide explains, and why.
UNEXPLAINED = {"guide": "is the guide", "guide-page": "is the guide"}
# A hold point is one thing at a time: no foot there. The page of all steps has it.
WITHOUT_FOOT = {"steps", "step", "step-list"}


class Read(HTMLParser):
    """A page's links, anchors, pictures, and its words outside code and tables."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.anchors: set[str] = set()
        self.pictures: list[dict[str, str]] = []
        self.text = ""
        self._quiet = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = {name: value or "" for name, value in attrs}
        if "id" in known:
            self.anchors.add(known["id"])
        if tag == "a":
            self.links.append(known.get("href", ""))
        if tag == "img":
            self.pictures.append(known)
        self._quiet += tag in ("code", "pre")
        if tag in ("p", "li", "h1", "h2", "h3", "td", "tr"):
            self.text += "\n"

    def handle_endtag(self, tag: str) -> None:
        self._quiet -= tag in ("code", "pre")

    def handle_data(self, data: str) -> None:
        self.text += " …" if self._quiet else data.replace("\n", " ")


def test_every_text_is_a_page_and_every_page_has_its_text() -> None:
    assert {path.stem for path in shipped.guide().glob("*.md")} == set(pages.ORDER)
    titles = [pages.page(name).title for name in pages.ORDER]
    assert len(set(titles)) == len(titles) and not set(titles) & set(pages.ORDER)


@pytest.mark.parametrize("name", pages.ORDER)
def test_a_page_opens_is_light_and_plain_and_its_links_resolve(demo: Path, name: str) -> None:
    client = people.browser(User.objects.get(username="maud"))
    answer = client.get(reverse("guide-page", args=[name]))
    html = answer.content.decode()
    page = pages.page(name)
    assert answer.status_code == 200 and f"<title>{page.title} – Topout</title>" in html
    assert len(answer.content) <= MOST
    assert [place for place, _ in page.headings] == list(dict.fromkeys(place for place, _ in page.headings)), (
        "an anchor twice"
    )
    here = Read(html)
    for link in here.links:
        place, _, anchor = urljoin(reverse("guide-page", args=[name]), link).partition("#")
        there = client.get(place)
        assert there.status_code == 200, link
        assert not anchor or anchor in Read(there.content.decode()).anchors, link
    assert words.findings(Read(page.html).text) == []


# In bold or in quotes on a page of the guide, and no button, link, label or heading of the product: emphasis, and what people say.
NOT_ON_A_PAGE = {
    "before anything is touched", "What pressure for me?", "Yes", "In part", "Evidence",
}  # fmt: skip
FILLED = {
    "Stop; the fork is safe": "Stop; the {{ safe }} is safe",
    "Can’t be told apart from 3": "Can’t be told apart from ",
}


def said_on_pages() -> str:
    """Every word that templates, scripts and the pages' rooms can show."""
    web = Path(views.__file__).parents[1]
    texts = [
        re.sub(r"<[^>]+>", "\n", path.read_text("utf-8")) for kind in ("html", "js") for path in web.rglob(f"*.{kind}")
    ]
    rooms = [path for path in web.rglob("*.py") if "demo" not in path.parts]
    rooms += [path for room in ("planner", "documents") for path in (web.parent / room).rglob("*.py")]
    for path in rooms:
        tree = ast.parse(path.read_text("utf-8"))
        texts += [
            each.value for each in ast.walk(tree) if isinstance(each, ast.Constant) and isinstance(each.value, str)
        ]
    return re.sub(r"\s+", " ", "\n".join(texts))


def test_every_button_link_and_label_that_the_guide_names_is_there() -> None:
    """What stands in bold or in quotes is said so by the product, letter for letter, or is listed as something else."""
    said, missing, used = said_on_pages(), [], set()
    for name in (each for each in pages.ORDER if each != "settings"):
        text = re.sub(r"```.*?```|`[^`]*`", "", pages.source(name), flags=re.DOTALL)
        for quoted in re.findall(r"\*\*(.+?)\*\*|“([^”]+)”|\"([^\"]+)\"", text, flags=re.DOTALL):
            words_ = re.sub(r"\s+", " ", "".join(quoted))
            used.add(words_)
            shown = FILLED.get(words_, words_)
            if words_ not in NOT_ON_A_PAGE and shown not in said and shown[:1].lower() + shown[1:] not in said:
                missing.append((name, words_))
    assert missing == [] and NOT_ON_A_PAGE | set(FILLED) <= used, (missing, (NOT_ON_A_PAGE | set(FILLED)) - used)


def test_a_strange_name_is_no_page_and_a_stranger_signs_in_first(demo: Path) -> None:
    technician = people.browser(User.objects.filter(is_staff=False).order_by("pk").first())
    assert technician.get("/guide/").status_code == 200
    for name in ("none", "..", "first-hour.md"):
        assert technician.get(f"/guide/{name}/").status_code == 404
    with override_settings(LOOPBACK=False):  # else the demo signs its visitor in
        assert people.browser().get("/guide/plan/").status_code == 302


def test_no_html_of_a_text_is_passed_on(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "plan.md").write_text(
        "# A <b>title</b>\n\n<script>alert(1)</script> [x](javascript:alert(1))\n", "utf-8"
    )
    monkeypatch.setattr(shipped, "guide", lambda: tmp_path)
    pages.page.cache_clear()
    try:
        html = pages.page("plan").html
    finally:
        pages.page.cache_clear()
    assert "<script" not in html and "<b>" not in html and 'href="javascript' not in html


def test_every_page_of_the_workshop_leads_to_what_explains_it(demo: Path) -> None:
    """By its address's name or its room, to a heading that is there; the page itself has the link."""
    client = people.browser(User.objects.get(username="maud"))
    shown, held = 0, addresses.of_the_demo()
    for pattern in addresses.patterns():
        name = str(pattern.name)
        if name in NO_PAGE or name in addresses.OPEN_TO_ALL:
            continue
        where = views.explained_in(name, pattern.callback.__module__)  # type: ignore[union-attr]
        if name in UNEXPLAINED:
            assert where == ""
            continue
        assert where, f"{name}: {pattern.callback.__module__} has no row in ROOMS of topout.web.guide.views"
        page, _, anchor = where.removeprefix("/guide/").partition("#")
        assert not anchor or anchor in dict(pages.page(page.strip("/")).headings), (name, where)
        if name not in WITHOUT_FOOT:
            answer = client.get(reverse(name, kwargs=addresses.arguments(pattern, held)), follow=True)
            if answer.resolver_match.url_name == name and answer.status_code == 200:
                shown += 1
                assert f'<a href="{where}">Guide to this page</a>' in answer.content.decode(), name
    assert shown > 30
    assert set(views.EXPLAINS) | set(UNEXPLAINED) <= set(addresses.names())


def test_the_settings_page_names_every_setting_command_and_variable() -> None:
    text = pages.source("settings")
    assert set(re.findall(r"^\| (TOPOUT_[A-Z_]+) \|", text, re.MULTILINE)) == environment.KNOWN
    assert re.findall(r"^### topout (\S+)$", text, re.MULTILINE) == list(options.COMMANDS)
    labels = [str(field.label) for part in parts.PARTS for field in part.base_fields.values()]
    table = text.partition("## The Workshop page")[2].partition("At the first start")[0]
    named = re.findall(r"^\| ([^|]+?) \|", table, re.MULTILINE)[2:]
    assert named == labels


def commands() -> list[tuple[str, str]]:
    """(page, command) of every line behind a $ in a block of the guide."""
    found = []
    for name in pages.ORDER:
        for block in re.findall(r"^ *```console\n(.*?)^ *```", pages.source(name), re.MULTILINE | re.DOTALL):
            found += [(name, line.strip()[2:]) for line in block.splitlines() if line.strip().startswith("$ ")]
    return found


def run(home: Path, *words: str) -> str:
    """What `topout` prints with this home; it must end well and complain of nothing."""
    ran = subprocess.run(
        [*warm.line(), *words], cwd=home, capture_output=True, text=True, timeout=120, check=False,
        env={"HOME": str(home), "PATH": "/usr/bin:/bin", "LANG": "C.UTF-8", "PYTHONPATH": str(Path(shipped.__file__).parents[2])},
    )  # fmt: skip
    assert (ran.returncode, ran.stderr) == (0, ""), (words, ran.stderr)
    return ran.stdout


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory, new_file: Path) -> Path:
    """A home with a workshop that has an owner, a copy of it, a stick, and the texts that the guide tells people to save."""
    made = tmp_path_factory.mktemp("home")
    place = made / ".local" / "share" / "topout"
    place.mkdir(parents=True, mode=0o700)
    shutil.copyfile(new_file, place / "workshop.sqlite3")
    run(made, "serve", "--no-serve")
    with using_file(place / "workshop.sqlite3"):
        User.objects.create_user("nora", first_name="Nora", is_staff=True)
    (made / "stick").mkdir()
    run(made, "backup", "stick")
    next((made / "stick").glob("*.zip")).rename(made / "COPY")
    for name in pages.ORDER:
        for file, text in re.findall(
            r"^```(?:toml|csv) (\S+)\n(.*?)^```", pages.source(name), re.MULTILINE | re.DOTALL
        ):
            (made / file).write_text(text, "utf-8")
    return made


SAYS = {  # what a command that worked says, beside ending well
    "serve": "Nothing is served: without --no-serve the workshop opens at", "owner-code": "/code/?code=", "check-procedure": "Nothing is wrong with it.",
}  # fmt: skip


@pytest.mark.parametrize(("name", "command"), commands())
def test_a_command_of_the_guide_does_what_it_says(home: Path, tmp_path: Path, name: str, command: str) -> None:
    """Run in a home of its own; what would go on serving stops before it does, and the demo is not made anew for it."""
    shutil.copytree(home, tmp_path, dirs_exist_ok=True)
    program, *given = shlex.split(command.replace("/media/stick", "stick"))
    assert program == "topout", command
    if "--demo" in given:  # loaded in test_demo.py; here, whether its words are known
        said = run(tmp_path, *given, "--help")
        assert all(f"{word} " in said for word in given if word.startswith("--"))
        return
    said = run(tmp_path, *given, *(["--no-serve"] if given[0] == "serve" else []))
    assert said and SAYS.get(given[0], "") in said
    if given[0] == "restore":
        assert (tmp_path / "NEW" / "workshop.sqlite3").is_file()
    if given == ["backup", "stick"]:
        assert len(list((tmp_path / "stick").glob("*.zip"))) == 1


def test_variables_and_commands_named_in_running_text_exist() -> None:
    for name in pages.ORDER:
        text = pages.source(name)
        assert set(re.findall(r"TOPOUT_[A-Z_]+", text)) <= environment.KNOWN, name
        assert {word for word in re.findall(r"`topout ([a-z-]+)", text)} <= set(options.COMMANDS), name


def test_figures_of_the_guide_are_those_of_the_program() -> None:
    """A number in a sentence stands in the code once; here each is written from it."""
    share, (nights, weeks, months, upgrades) = 2 * typical.FRONT_SHARE[1], settings.BACKUP_KEEP
    warmed = to_si(85, "psi", "pressure") - gas.warmed_gauge_pa(
        to_si(85, "psi", "pressure"), 293.15, 290.15, gas.ATMOSPHERE_PA
    )
    coarse = judge.Gauge(1.0, 300.0, 1.6)
    held = {
        "plan": [f"past {100 * held_in.OF_THE_SPAN:.0f} % of its scale", f"stand {number(len(KEEPS))} ways to keep"],
        "options": [
            f"sag outside {100 * limits.SAG_SHARE_LOW:.0f} to {100 * limits.SAG_SHARE_HIGH:.0f} %", f"where one in {number(round(1 / broken.MOST_SHARE))} of them",
            f"{number(options_page.SHOWN)} at first",
        ],
        "figures": [
            f"better than {number(round(100 * share))} hundredths", f"about {from_si(float(warmed), 'psi', 'pressure'):.0f} psi for every 3 °C at 85 psi",
            f"class {coarse.class_percent:g} on a scale to {coarse.span_pa:g} psi may be {coarse.error_pa(0):.1f} psi off",
        ],
        "safe": [f"last {nights} nights, {weeks} weeks and {months} months keep one copy each, and the last {upgrades} made before"],
    }  # fmt: skip
    wrong = [
        (name, said) for name, each in held.items() for said in each if said not in " ".join(pages.source(name).split())
    ]
    assert not wrong


def number(count: int) -> str:
    """As the guide writes it."""
    return {3: "three", 4: "four", 12: "twelve", 20: "twenty"}[count]


def test_the_share_of_weight_that_nobody_knows_better_is_three_to_four_millimetres() -> None:
    """The sentence of the page of figures, worked out for a fork of 150 mm."""
    at = typical.FRONT_SHARE[0]
    bench = topout.read(shipped.examples()["longer-travel"])
    assert bench.fork is not None and bench.fork.travel_m == 0.15
    sags = [
        topout.sag(replace(bench, rider=replace(bench.rider, front_share=share))).front.travel_m
        for share in (at, at + 2 * typical.FRONT_SHARE[1])
    ]
    assert 0.003 <= sags[1] - sags[0] <= 0.004
    assert "3 to 4 mm of sag on a 150 mm fork" in pages.source("figures")


def test_what_the_page_or_the_start_says_stands_in_the_guide_as_it_is_said(tmp_path: Path) -> None:
    """The left column of the table of troubles, against the troubles themselves; the right column names the same command."""
    was = witness.Witness("2026-01-01", 5, "k", 3, "job 3, 2026-01-02 10:00 UTC")
    less = [
        witness.less(Rows(row), was, tmp_path / "w.sqlite3")
        for row in (("2026-02-01", 5, "k", 3, ""), ("2026-01-01", 5, "k", 2, ""), ("2026-01-01", 4, "j", 3, ""))
    ]
    said = [each.words for each in vars(storage).values() if isinstance(each, storage.Trouble)]
    said += [each.words for each in (*less, witness.gone(was, tmp_path / "w.sqlite3"), at_start.newer({("jobs_records", "9999_x")})) if each]  # fmt: skip
    table = pages.source("safe").partition("| the page or the start says |")[2].partition("\n\n")[0]
    rows = re.findall(r"^\| ([^|-]+?) \| ([^|]+?) \|$", table, re.MULTILINE)
    assert len(rows) >= 9
    assert not [left for left, _ in rows if not any(words.startswith(left) for words in said)]


class Rows:
    """A database that answers one row to whatever is asked."""

    def __init__(self, row: tuple[object, ...]) -> None:
        self._row = row

    def execute(self, *_: object) -> Rows:
        return self

    def fetchone(self) -> tuple[object, ...]:
        return self._row


def test_a_picture_is_small_waits_for_its_turn_and_says_what_it_shows(demo: Path) -> None:
    client = people.browser(User.objects.get(username="maud"))
    used = set()
    for name in pages.ORDER:
        for picture in Read(pages.page(name).html).pictures:
            assert picture["loading"] == "lazy" and len(picture["alt"].split()) >= 4, picture
            answer = client.get(picture["src"])
            content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
            answer.close()
            assert answer.headers["Content-Type"] == "image/webp" and "immutable" in answer.headers["Cache-Control"]
            assert len(content) <= PICTURE_MOST, picture
            assert Image.open(io.BytesIO(content)).size == (int(picture["width"]), int(picture["height"]))
            used.add(picture["src"].rpartition("/")[2].split(".")[0])
    assert used == {path.stem for path in (shipped.guide() / "pictures").iterdir()}
    assert len(used) >= 6


def test_the_questions_are_thirty_two_and_two_dozen_are_answered() -> None:
    rows = re.findall(r"^\| (\d+) \| .*? \| (yes|in part|no) \| (.*?) \|", pages.source("questions"), re.MULTILINE)
    assert [int(number) for number, _, _ in rows] == list(range(1, 33))
    assert sum(answered == "yes" for _, answered, _ in rows) >= 24
    assert all(where.strip() for _, answered, where in rows if answered == "yes"), "an answer that stands nowhere"
