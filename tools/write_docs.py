"""Write the generated parts of docs/bench-file.md, docs/command-line.md and docs/guide/settings.md, and what shells and man read.

With --check it says whether they are as they would be written.

The table of keys comes from the model, the texts of the commands from --help, the settings from outside from the room that
reads them. A test runs the check.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import shell_files
from topout.bench_file import model, parts
from topout.bench_file.samples import SAMPLES
from topout.cli import commands as answers
from topout.cli import options
from topout.units import from_si
from topout.web import commands as workshop
from topout.web import environment

DOCS = Path(__file__).resolve().parents[1] / "docs"
BEGIN, END = "<!-- made by tools/write_docs.py: begin -->", "<!-- end -->"


def main() -> int:
    """0 where the files are as they should be, or were written; 1 where --check finds a difference."""
    os.environ["COLUMNS"] = "100"
    wanted = {
        "bench-file.md": "\n".join(keys()),
        "command-line.md": "\n".join(commands()),
        "guide/settings.md": "\n".join(settings()),
    }
    stale = []
    for name, made in wanted.items():
        path = DOCS / name
        text = path.read_text("utf-8")
        before, _, rest = text.partition(BEGIN)
        _, _, after = rest.partition(END)
        new = f"{before}{BEGIN}\n\n{made}\n\n{END}{after}"
        # Where argparse sets its columns and breaks its lines differs from Python to Python.
        if new.split() != text.split():
            stale.append(name)
            if "--check" not in sys.argv:
                path.write_text(new, "utf-8")
    for path, text in shell_files.made().items():
        if not path.exists() or path.read_text("utf-8") != text:
            stale.append(path.name)
            if "--check" not in sys.argv:
                path.parent.mkdir(exist_ok=True)
                path.write_text(text, "utf-8")
    if "--check" in sys.argv and stale:
        print(f"{', '.join(stale)}: run tools/write_docs.py")
        return 1
    return 0


def keys() -> Iterator[str]:
    """One table for each table of the file."""

    def walk(table: type, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], type]]:
        for word, inner in model.subtables(table).items():
            yield (*path, word), inner
            if path != ("change",) or word not in model.NAMED_ALONE:
                yield from walk(inner, (*path, word))

    for path, table in walk(model.BenchFile, ()):
        name = ".".join(path)
        yield f"### `[{name}]`\n"
        yield (table.__doc__ or "").split("\n")[0] + "\n"
        if path[:1] == ("change",) and path[-1] in model.NAMED_ALONE:
            yield f"The keys of `[fork.{path[-1]}]`, only those that change.\n"
            continue
        yield "| key | written | range | default | what it is |"
        yield "| --- | --- | --- | --- | --- |"
        for word, (attribute, key) in model.keys(table).items():
            if name in ("front_wheel", "change.front_wheel") and word == "sag":
                continue
            default = table.__dataclass_fields__[attribute].default  # type: ignore[attr-defined]
            sample = SAMPLES.get(name, {}).get(word, "")
            yield f"| `{word}` | `{sample}` | {limits(key)} | {shown(default, key)} | {key.says} |"
        yield ""
    yield from shelf()


def shelf() -> Iterator[str]:
    """The keys of a part; what it gives, by its kind."""
    yield "### `[[shelf]]`\n"
    yield "Parts that may be fitted, a table for each; `topout options` looks among them.\n"
    yield "| key | written | range | default | what it is |"
    yield "| --- | --- | --- | --- | --- |"
    for word, (attribute, key) in model.keys(parts.Part).items():
        default = parts.Part.__dataclass_fields__[attribute].default
        yield f"| `{word}` | `{parts.SAMPLES[word]}` | {limits(key)} | {shown(default, key)} | {key.says} |"
    tables: dict[str, type] = dict(parts.TYPES)
    for kind, table in tables.items():
        key = model.keys(table)["gives"][1]
        yield f"| `gives` | `{parts.GIVES[kind]}` | {limits(key)} |  | of `{kind}`: {key.says}; needed |"
    bead = model.keys(parts.Tyre)["bore"][1]
    yield f'| `bore` | `"622 mm"` | {limits(bead)} |  | of `tyre`: {bead.says} |'
    bind = model.keys(parts.CoilSpring)["bind"][1]
    yield f"| `bind` | `{parts.SAMPLES['bind']}` | {limits(bind)} |  | of `coil`: {bind.says} |"
    yield ""


def limits(key: model.Key) -> str:
    """The range of a key in the unit written first, or its words."""
    if key.choices and key.kind != "pairs":
        return " ".join(f"`{choice}`" for choice in key.choices)
    if key.low_si is None or key.high_si is None:
        return ""
    if key.kind == "quantity":
        low, high = (from_si(v, key.unit, key.dimension) for v in (key.low_si, key.high_si))
        return f"{round(low, 6):g} to {round(high, 6):g} {key.unit}"
    return f"{key.low_si:g} to {key.high_si:g}"


def shown(default: object, key: model.Key) -> str:
    """A default as a person writes it; empty where there is none."""
    if default is None or not isinstance(default, (int, float, str)):
        return ""
    if key.kind == "quantity":
        return f"{round(from_si(float(default), key.unit, key.dimension), 6):g} {key.unit}"
    return str(default)


EXAMPLE, OTHER = "examples/port-further-in.toml", "examples/longer-travel.toml"
SHOWN = {  # what each command prints at 80 columns, shown below its options
    "sag": [EXAMPLE],
    "geometry": [EXAMPLE],
    "plan": [EXAMPLE],
    "compare": [EXAMPLE, OTHER],
    "inflate": [EXAMPLE, "--hose", "3 ml"],
    "target": [EXAMPLE, "--sag", "20%", "--end-force", "2000 N"],
    "landing": [EXAMPLE],
    "ride": [EXAMPLE, "--temperature=-5degC"],
    "rebound": [EXAMPLE, "--clicks", "8"],
    "curve": [EXAMPLE, "--units", "metric"],
    "ways": ["examples/piston-spacer.toml"],
    "options": ["examples/parts-on-the-shelf.toml", "--limit", "4"],
}


def commands() -> Iterator[str]:
    """What --help says of each command, and what it prints of an example."""
    whole = options.parser()
    yield f"```text\n{whole.format_help().rstrip()}\n```\n"
    for action in whole._actions:
        for name, own in (action.choices or {}).items() if isinstance(action.choices, dict) else ():
            if name not in options.OF_WORKSHOP:
                yield f"## {name}\n\n```text\n{own.format_help().rstrip()}\n```\n"
                if name in SHOWN:
                    yield f"```text\n$ topout {shlex.join([name, *SHOWN[name]])}\n{printed(name)}\n```\n"


def printed(name: str) -> str:
    """What a command prints of its example at 80 columns."""
    os.environ["COLUMNS"] = "80"
    try:
        with contextlib.chdir(DOCS.parent):
            return answers.answer(options.parse([name, *SHOWN[name]])).text.rstrip()
    finally:
        os.environ["COLUMNS"] = "100"


def settings() -> Iterator[str]:
    """Every command with its options, a line each, and the settings from outside, for the guide."""
    yield "## Commands\n"
    yield "At a terminal of the workshop’s computer. Each takes `--help`.\n"
    whole = options.parser()
    for action in whole._actions:
        for name, own in (action.choices or {}).items() if isinstance(action.choices, dict) else ():
            yield f"### topout {name}\n\n{options.COMMANDS[name][:1].upper()}{options.COMMANDS[name][1:]}.\n"
            if name in options.OF_WORKSHOP:
                own = of_workshop(name)
            yield from (f"- {line}" for line in map(option, own._actions) if line)
            yield ""
    yield "## Settings from outside\n"
    yield "Variables of the environment, for whoever starts the workshop by a script. An unknown one stops the start.\n"
    yield from (line for line in (environment.__doc__ or "").splitlines() if line.startswith("|"))


def of_workshop(name: str) -> argparse.ArgumentParser:
    """The options of a command that lives in the web: the parser that answers its --help."""
    asked: list[argparse.ArgumentParser] = []

    def caught(self: argparse.ArgumentParser, file: object = None) -> None:
        asked.append(self)

    with mock.patch.object(argparse.ArgumentParser, "print_help", caught), contextlib.suppress(SystemExit):
        workshop.run([name, "--help"])
    return asked[0]


def option(action: argparse.Action) -> str:
    """One option in one line; empty for --help. Where a default is this computer's own folder, it is said in words."""
    if not action.help or "--help" in action.option_strings:
        return ""
    named = ", ".join(action.option_strings)
    takes = action.metavar if action.nargs != 0 and isinstance(action.metavar, str) else ""
    says = action.help.replace("%%", "%").replace(str(environment.data_folder()), "the user's own data folder")
    return f"`{' '.join(part for part in (named, takes) if part)}`: {says}"


if __name__ == "__main__":
    raise SystemExit(main())
