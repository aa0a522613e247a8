"""The words of the command line: commands, options, and how a wrong one is answered.

Only argparse is imported here, the rest where it is used: `topout --help` needs no more.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final, NoReturn

COMMANDS: Final = {
    "curve": "the spring's force along the travel",
    "sag": "where the bike rests under its rider",
    "geometry": "how the bike stands, at full extension and at sag",
    "plan": "before and after the change, and the pressure to set",
    "inflate": "the readings to expect while filling",
    "serve": "the workshop's pages, in the browser",
}
OF_WORKSHOP: Final = ("serve",)  # no bench file; their options are their own, in topout.web
MAX_POINTS: Final = 100_000
MAX_PRESSURE_BAR: Final = 60
MAX_HOSE_ML: Final = 200
DRAWS: Final = {
    "curve": "the force along the travel",
    "sag": "the stance at sag (the force along the travel where the file has no [frame])",
    "geometry": "the stance",
    "plan": "the stance before and after (the force along the travel where the file has no [frame])",
}


class WrongWord(Exception):
    """A word of the command line that can't be used; `str()` is the line to show."""


class _Parser(argparse.ArgumentParser):
    """Raises what it finds wrong instead of leaving; remembers the options it has, to tell which one was meant."""

    def __init__(self, **given: Any) -> None:
        self.known: list[str] = []
        super().__init__(**given, allow_abbrev=False, exit_on_error=False)

    def add_argument(self, *names: str, **given: Any) -> argparse.Action:
        self.known += [name for name in names if name.startswith("--")]
        return super().add_argument(*names, **given)

    def error(self, message: str) -> NoReturn:
        raise WrongWord(message)


def _no_such(word: str, known: Iterable[str]) -> str:
    """The line for a word that nothing takes."""
    if not word.startswith("-"):
        return f"{shown(word)}: one bench file is expected."
    import difflib

    near = difflib.get_close_matches(word.split("=")[0], sorted(known), n=1)
    return f"{shown(word)}: no such option." + (f" Is it {near[0]}?" if near else "")


def shown(word: str) -> str:
    """A word of the command line, short, and harmless to a terminal."""
    cut = word if len(word) <= 40 else word[:39] + "…"
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in cut)


def _quantity(dimension: str, unit: str, low: float, high: float, noun: str) -> Callable[[str], float]:
    """A reader for an option's value; limits in `unit`, both ends included, but for a low of 0 with `above`."""

    def read(text: str) -> float:
        from topout import units

        low_si, high_si = (units.to_si(v, unit, dimension) for v in (low, high))
        try:
            value = units.parse(text, dimension).value_si
        except units.UnitFault as fault:
            raise argparse.ArgumentTypeError(f'"{shown(text)}": {fault}') from None
        if not low_si <= value <= high_si * (1 + 1e-12):
            raise argparse.ArgumentTypeError(f'"{shown(text)}": {noun} is {low:g} to {high:g} {unit}.')
        return value

    return read


def _points(text: str) -> int:
    if not re.fullmatch(r"\d{1,9}", text.strip(), re.ASCII) or not 2 <= int(text) <= MAX_POINTS:
        raise argparse.ArgumentTypeError(f'"{shown(text)}": a whole number is expected, 2 to {MAX_POINTS}.')
    return int(text)


def _end(text: str) -> str:
    if text == "rear":
        raise argparse.ArgumentTypeError('"rear": a rear shock is not computed yet; leave it out.')
    if text != "front":
        raise argparse.ArgumentTypeError(f'"{shown(text)}": one of "front", "rear" is expected.')
    return text


def parser(commands_asked: Iterable[str] = COMMANDS) -> _Parser:
    """The command line with these of its commands; each takes a millisecond to describe.

    The file may be left out for the parser alone: `parse` says that it is missing, in the same words for every Python.
    """
    top = _Parser(
        prog="topout",
        description="A bench for bicycle suspension: what a change does to the bike, and what to set.",
        epilog="Every command but serve reads a bench file: one bike with what is fitted to it, see docs/bench-file.md. "
        "What is to be mended is said in a line each, with exit status 2.",
    )
    top.add_argument("--version", action="store_true", help="print the version and stop")
    commands = top.add_subparsers(metavar="COMMAND", dest="command", title="commands", parser_class=_Parser)
    for name in commands_asked:
        own = commands.add_parser(name, help=COMMANDS[name], description=f"Prints {COMMANDS[name]}.")
        if name in OF_WORKSHOP:
            own.description = f"Its options follow it: topout {name} --help."
            continue
        own.usage = f"topout {name} [options] FILE"
        own.add_argument("file", metavar="FILE", nargs="?", help="the bench file, TOML")
        own.add_argument("--json", action="store_true", help="print one JSON object, for programs")
        if name in DRAWS:
            own.add_argument("--plot", metavar="PICTURE", help=f"draw {DRAWS[name]} to a .svg, .png or .pdf file")
        if name in _OWN_OPTIONS:
            _OWN_OPTIONS[name](own)
        top.known += own.known
    return top


def _of_curve(own: argparse.ArgumentParser) -> None:
    own.add_argument("--points", type=_points, metavar="N", help="points along the travel, both ends in (default 201)")
    own.add_argument("--end", type=_end, metavar="END", help="front or rear (rear is not computed yet; default front)")


def _of_inflate(own: argparse.ArgumentParser) -> None:
    pressure = _quantity("pressure", "bar", 0, MAX_PRESSURE_BAR, "a pressure")
    own.add_argument(
        "--to", type=pressure, metavar="PRESSURE", help='fill to, "62 psi" (default: the file\'s pressure)'
    )
    own.add_argument(
        "--stop",
        type=pressure,
        metavar="PRESSURE",
        action="append",
        default=[],
        help="stop on the way; may be repeated",
    )
    own.add_argument(
        "--gauge",
        type=_quantity("pressure", "psi", 0.01, 100, "what a gauge can show"),
        metavar="PRESSURE",
        help='what the gauge can show (default "1 psi")',
    )
    own.add_argument(
        "--hose",
        type=_quantity("volume", "ml", 0, MAX_HOSE_ML, "a hose"),
        default=0.0,
        metavar="VOLUME",
        help='volume of the pump\'s hose, "3 ml" (default none)',
    )


_OWN_OPTIONS: Final = {"curve": _of_curve, "inflate": _of_inflate}


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """The command line as typed; raises WrongWord with one line. `--help` prints and leaves with status 0."""
    first = arguments[0] if arguments else "-"
    if not first.startswith("-") and first not in COMMANDS:
        import difflib

        near = difflib.get_close_matches(first, list(COMMANDS), n=1)
        hint = f"Is it {near[0]}?" if near else f"Known are {', '.join(COMMANDS)}."
        raise WrongWord(f"{shown(first)}: no such command. {hint}")
    whole = parser([first] if first in COMMANDS else COMMANDS)
    try:
        result, more = whole.parse_known_args(list(arguments))
    except argparse.ArgumentError as wrong:
        raise WrongWord(f"{wrong.argument_name}: {wrong.message}" if wrong.argument_name else wrong.message) from None
    if more:
        raise WrongWord(_no_such(next((word for word in more if word.startswith("-")), more[0]), whole.known))
    if result.version:
        return result
    if result.command is None:
        whole.print_help(sys.stderr)
        raise WrongWord("a command is missing.")
    if result.command not in OF_WORKSHOP and result.file is None:
        raise WrongWord(f"the bench file is missing: topout {result.command} FILE.")
    return result
