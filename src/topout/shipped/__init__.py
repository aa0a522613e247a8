"""The documents, examples and shell scripts that come with the program: inside the wheel, or beside the source in a checkout."""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def examples() -> dict[str, Path]:
    """The example bench files by name, "longer-travel"."""
    return {path.stem: path for path in sorted(_folder("examples").glob("*.toml"))}


def documents() -> dict[str, Path]:
    """The documents for who works with the program, by name, "bench-file"."""
    return {path.stem: path for path in sorted(_folder("docs").glob("*.md"))}


def guide() -> Path:
    """The folder of the guide: a text a page, and its pictures."""
    return _folder("docs") / "guide"


def completions() -> dict[str, Path]:
    """The completion script of each shell; tools/write_docs.py writes them."""
    endings = {"bash": "bash", "zsh": "zsh", "fish": "fish", "powershell": "ps1"}
    return {shell: _HERE / "shell" / f"topout.{ending}" for shell, ending in endings.items()}


def _folder(name: str) -> Path:
    """The folder in the wheel (pyproject.toml puts it there); in a checkout the one at its root."""
    packed = _HERE / name
    return packed if packed.is_dir() else _HERE.parents[2] / name
