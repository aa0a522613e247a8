"""What is installed without a checkout: the wheel holds everything, and runs in an empty home and an environment of its own."""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import sysconfig
import time
import urllib.request
import zipfile
from pathlib import Path

import pytest

import topout

ROOT = Path(__file__).resolve().parents[1]
SHARE = f"topout-{topout.__version__}.data/data/share"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this tree, built as an installer builds it."""
    into = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(into)],
        cwd=ROOT, check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    (built,) = into.glob("*.whl")
    return built


def test_the_wheel_holds_every_file_the_program_reads(wheel: Path) -> None:
    """Code, templates, static files, fonts, procedures; documents and examples; what shells and man read. And nothing else."""
    names = set(zipfile.ZipFile(wheel).namelist())
    source = ROOT / "src" / "topout"
    there = {
        f"topout/{path.relative_to(source).as_posix()}"
        for path in source.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    documents = {f"topout/shipped/docs/{path.name}" for path in (ROOT / "docs").glob("*.md")}
    documents |= {f"topout/shipped/{path.relative_to(ROOT)}" for path in (ROOT / "docs" / "guide").rglob("*.*")}
    examples = {f"topout/shipped/examples/{path.name}" for path in (ROOT / "examples").glob("*.toml")}
    shared = {
        f"{SHARE}/{name}"
        for name in (
            "man/man1/topout.1",
            "bash-completion/completions/topout",
            "zsh/site-functions/_topout",
            "fish/vendor_completions.d/topout.fish",
        )
    }
    assert len(there) > 200 and documents and examples
    missing = (there | documents | examples | shared) - names
    assert not missing, "pyproject.toml, [tool.hatch.build.targets.wheel]"
    more = {name for name in names - there - documents - examples - shared if ".dist-info/" not in name}
    assert not more
    with zipfile.ZipFile(wheel) as held:
        assert b"topout = topout.__main__:main" in held.read(f"topout-{topout.__version__}.dist-info/entry_points.txt")


class Installed:
    """The wheel in an environment of its own, and an empty home to run it in."""

    def __init__(self, wheel: Path, folder: Path) -> None:
        self.home, self.work, self.venv = folder / "home", folder / "work", folder / "venv"
        self.home.mkdir()
        self.work.mkdir()
        subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(self.venv)], check=True)
        scheme = {"base": str(self.venv), "platbase": str(self.venv)}
        packages = Path(sysconfig.get_path("purelib", "venv", vars=scheme))
        # What it stands on comes from the tests' own environment; a path in a .pth is not searched for more of them, so
        # that the checkout itself, which lies there by such a file, is not seen.
        (packages / "needed.pth").write_text(sysconfig.get_path("purelib") + "\n")
        uv = shutil.which("uv") or str(ROOT / ".uv" / "bin" / "uv")
        pip = [uv, "pip", "install", "--offline", "--python", str(self.venv)]
        if not Path(uv).exists():
            pip = [sys.executable, "-m", "pip", "--python", str(self.venv), "install", "--no-index"]
        env = {**self.env, "UV_CACHE_DIR": str(folder / "cache"), "UV_LINK_MODE": "copy"}
        subprocess.run([*pip, "--no-deps", "--quiet", str(wheel)], check=True, env=env, cwd=self.work)

    @property
    def env(self) -> dict[str, str]:
        return {"HOME": str(self.home), "PATH": f"{self.venv / 'bin'}:/usr/bin:/bin", "LANG": "C.UTF-8"}

    def run(self, *words: str, **more: object) -> str:
        """What a command prints; it must end well and complain of nothing."""
        given = {"capture_output": True, "text": True, "check": False, "cwd": self.work, "env": self.env, **more}
        ran = subprocess.run(words, **given)  # type: ignore[call-overload]
        assert (ran.returncode, ran.stderr) == (0, ""), (words, ran.stderr)
        return str(ran.stdout)


def test_it_runs_in_an_empty_home_and_an_environment_of_its_own(wheel: Path, tmp_path: Path) -> None:
    here = Installed(wheel, tmp_path)
    where = here.run("python", "-c", "import topout, topout.planner as p; print(topout.__file__); print(p.__file__)")
    assert all(line.startswith(str(here.venv)) for line in where.splitlines())
    assert here.run("topout", "-V") == f"topout {topout.__version__}\n"
    here.run("topout", "new", "--from", "longer-travel", "bike.toml")
    text = (here.work / "bike.toml").read_text()
    for command in ("curve", "sag", "geometry", "inflate"):
        assert here.run("topout", command, "bike.toml")
    assert json.loads(here.run("topout", "plan", "-", "--json", input=text))
    here.run("topout", "plan", "bike.toml", "--plot", "stance.pdf")
    here.run("topout", "curve", "bike.toml", "--plot", "curve.png")
    assert (here.work / "stance.pdf").read_bytes().startswith(b"%PDF")
    assert "bore" in here.run("topout", "help", "bench-file")
    assert "longer-travel:" in here.run("topout", "help", "examples")
    assert here.run("topout", "completion", "bash") == (
        here.venv / "share" / "bash-completion" / "completions" / "topout"
    ).read_text("utf-8")
    assert ".TH TOPOUT" in (here.venv / "share" / "man" / "man1" / "topout.1").read_text("utf-8")
    code = "import topout; print(topout.plan(topout.read('bike.toml')).keep.sag.pressure_pa)"
    assert float(here.run("python", "-W", "error", "-c", code)) > 0
    assert list(here.home.iterdir()) == [], "no command but serve leaves anything behind"
    assert sorted(path.name for path in here.work.iterdir()) == ["bike.toml", "curve.png", "stance.pdf"]


@pytest.mark.soak
def test_the_workshop_is_served_from_it(wheel: Path, tmp_path: Path) -> None:
    """The demo, made by its own procedures and served with its pages, styles and fonts; nothing outside its folder."""
    here = Installed(wheel, tmp_path)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    data = tmp_path / "data"
    with open(tmp_path / "said", "w") as said:
        serving = subprocess.Popen(
            ["topout", "serve", "--demo", "--data", str(data), "--port", str(port)],
            env=here.env | {"PATH": f"{here.venv / 'bin'}:{os.environ['PATH']}"}, cwd=here.work, stdout=said, stderr=said,
        )  # fmt: skip
    try:
        page = _fetched(f"http://127.0.0.1:{port}/", serving, tmp_path / "said")
        assert "<title>" in page and "Topout" in page
        sheets = re.findall(r'href="(/static/[^"]+\.css)"', page)
        assert sheets
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{sheets[0]}") as answer:
            assert answer.status == 200 and len(answer.read()) > 1000
    finally:
        serving.terminate()
        serving.wait(20)
    assert list(here.home.iterdir()) == [] and list(here.work.iterdir()) == []


def _fetched(url: str, serving: subprocess.Popen[bytes], said: Path) -> str:
    """A page, once it is served; two minutes for the demo to be made."""
    until = time.monotonic() + 120
    while time.monotonic() < until:
        assert serving.poll() is None, said.read_text()
        try:
            with urllib.request.urlopen(url, timeout=10) as answer:
                return str(answer.read().decode("utf-8"))
        except OSError:
            time.sleep(0.5)
    raise AssertionError(said.read_text())
