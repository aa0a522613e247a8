"""The words of the command line: commands, options, and how a wrong one is answered.

Only argparse is imported here, the rest where it is used: `topout --help` needs no more.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence

from topout.cli.option_values import named_wanted, one_of, quantity, shown, wanted, whole
from topout.cli.parsers import Named, Parser
from topout.cli.parsers import WrongWord as WrongWord
from topout.terminal import without_value

TYPE_CHECKING = False  # typing's own costs its import, a tenth of what --help takes
if TYPE_CHECKING:
    from typing import Final

COMMANDS: Final = {
    "new": "a bench file that explains itself, to be filled in",
    "curve": "the spring's force along the travel",
    "sag": "where the bike rests under its rider",
    "geometry": "how the bike stands, at full extension and at sag",
    "plan": "before and after the change, and the pressure to set",
    "compare": "two builds side by side",
    "inflate": "the readings to expect while filling",
    "target": "what to set or fit for a sag, an end force or a stance that is asked for",
    "landing": "the drop that uses all the travel",
    "ride": "what becomes of it where it is ridden, colder or higher up, and what to set here",
    "rebound": "where to start with the rebound after a change of the spring",
    "ways": "another travel by shaft, piston spacer or chassis, side by side",
    "options": "what to fit and set so that the bike sits and springs as it did",
    "check-procedure": "a procedure of the workshop's own, checked; nothing is kept",
    "help": "a command's options, or a document: topout help bench-file",
    "completion": "what a shell needs to complete these words",
    "serve": "the workshop's pages, in the browser",
    "owner-code": "a one-time code for an owner who forgot the password",
    "backup": "a copy of the workshop in one file",
    "restore": "a workshop put back from a copy",
    "verify": "whether what is kept is still what was saved",
    "export": "all of a workshop's data, or one rider's, as CSV and JSON",
    "import": "riders and bikes from a CSV file, each row's fate shown first",
}
# These read no bench file; their options are their own, in topout.web.
OF_WORKSHOP: Final = ("serve", "owner-code", "backup", "restore", "verify", "export", "import")
ANSWERING: Final = (  # they read bench files
    "curve", "sag", "geometry", "plan", "compare", "inflate", "target", "landing", "ride",
    "rebound", "ways", "options",
)  # fmt: skip
UNITS: Final = ("metric", "imperial", "both")
MAX_POINTS: Final = 100_000
MAX_HOSE_ML: Final = 200
MAX_CLICKS: Final = 60
MAX_OPTIONS: Final = 10_000
USUAL_OPTIONS: Final = 10
DRAWS: Final = {
    "curve": "the force along the travel",
    "sag": "the stance at sag (the force along the travel where the file has no [frame])",
    "geometry": "the stance",
    "plan": "the stance before and after (the force along the travel where the file has no [frame])",
}
_TAKES: Final = {"new": "[FILE]", "compare": "A B", "help": "[TOPIC]", "completion": "SHELL", "check-procedure": "FILE"}
SHELLS: Final = ("bash", "zsh", "fish", "powershell")
NEW_FILE: Final = "bench.toml"


def _no_such(word: str, known: Iterable[str]) -> str:
    """The line for a word that nothing takes."""
    if not word.startswith("-"):
        return f"{shown(word)}: one word too many."
    import difflib

    near = difflib.get_close_matches(word.split("=")[0], sorted(known), n=1)
    return f"{shown(word)}: no such option." + (f" Is it {near[0]}?" if near else "")


def parser(commands_asked: Iterable[str] = COMMANDS, *, named_only: bool = False) -> Parser:
    """The command line with these of its commands; each takes a millisecond to describe, unless it is only named.

    The file may be left out for the parser alone: `parse` says that it is missing, in the same words for every Python.
    """
    top = Parser(
        prog="topout",
        description="A bench for bicycle suspension: what a change does to the bike, and what to set.",
        epilog="A bench file holds one bike with what is fitted to it: topout help bench-file. "
        "What is to be mended is said in a line each, with exit status 2.",
    )
    top.add_argument("-V", "--version", action="store_true", help="print the version and stop")
    kind: type[Parser] = Named if named_only else Parser  # type: ignore[assignment]  # it becomes one where it is asked
    commands = top.add_subparsers(metavar="COMMAND", dest="command", title="commands", parser_class=kind)
    for name in commands_asked:
        own = commands.add_parser(name, help=COMMANDS[name], description=f"Prints {COMMANDS[name]}.")
        if named_only:
            continue
        if name in OF_WORKSHOP:
            own.description = f"Its options follow it: topout {name} --help."
            continue
        own.usage = f"topout {name} [options] {_TAKES.get(name, 'FILE...')}"
        if name in ANSWERING:
            _of_answering(own, name)
        if name in _OWN_OPTIONS:
            _OWN_OPTIONS[name](own)
        top.known += own.known
    return top


def _of_answering(own: argparse.ArgumentParser, name: str) -> None:
    """What every command takes that reads bench files."""
    what = "two bench files" if name == "compare" else "a bench file, TOML; several make one table"
    own.add_argument("files", metavar="FILE", nargs="*", help=f"{what}; - is standard input")
    form = own.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print one JSON object a line, for programs")
    form.add_argument("--csv", action="store_true", help="print one table of comma-separated values, SI")
    known = getattr(own, "known", None)  # a group's options are not seen by the parser's own list
    if known is not None:
        known += ["--json", "--csv"]
    own.add_argument(
        "--units",
        type=one_of(UNITS),
        metavar="SYSTEM",
        help="metric, imperial or both (default: the units that the file is written in)",
    )
    if name in DRAWS:
        own.add_argument("--plot", metavar="PICTURE", help=f"draw {DRAWS[name]} to a .svg, .png or .pdf file")
    if name in ("plan", "compare"):
        own.add_argument("--strict", action="store_true", help="end with status 1 where anything is warned of")


def _of_curve(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--points", type=whole(2, MAX_POINTS), metavar="N", help="points along the travel, both ends in (default 201)"
    )
    _end(own)


def _end(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--end",
        type=one_of(("front", "rear")),
        metavar="END",
        help="front or rear (default what the file has, front first)",
    )


def _most_pressure_bar() -> float:
    """What a bench file takes."""
    from topout.bench_file.key import MOST_PRESSURE_BAR

    return MOST_PRESSURE_BAR


def _of_inflate(own: argparse.ArgumentParser) -> None:
    pressure = quantity("pressure", "bar", 0, _most_pressure_bar, "a pressure")
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
    _gauge(own)
    own.add_argument(
        "--hose",
        type=quantity("volume", "ml", 0, MAX_HOSE_ML, "a hose"),
        default=0.0,
        metavar="VOLUME",
        help='volume of the pump\'s hose, "3 ml" (default none)',
    )


def _of_target(own: argparse.ArgumentParser) -> None:
    from topout.planner.wanted_words import WORDS

    for word in WORDS.values():
        text = word.help.replace("%", "%%")
        own.add_argument(f"--{word.name}", type=wanted(word.name), metavar=word.metavar, help=text)


def _of_ride(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--temperature",
        type=quantity("temperature", "degC", -40, 60, "a temperature"),
        metavar="TEMPERATURE",
        help='of the air where it is ridden, "0 degC"; a cold one is written --temperature=-5degC',
    )
    own.add_argument(
        "--altitude",
        type=quantity("length", "m", -400, 6000, "a height"),
        metavar="HEIGHT",
        help='of where it is ridden, "1500 m" (default for both: the file\'s [ride])',
    )
    _end(own)


def _of_rebound(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--clicks",
        type=whole(0, MAX_CLICKS, "a whole number of clicks"),
        metavar="N",
        help="rebound clicks from closed, as they were",
    )
    own.add_argument(
        "--of",
        type=whole(0, MAX_CLICKS, "a whole number of clicks"),
        metavar="N",
        help="rebound clicks in all, from closed to open",
    )
    _end(own)


def _gauge(own: argparse.ArgumentParser) -> None:
    own.add_argument(
        "--gauge",
        type=quantity("pressure", "psi", 0.01, 100, "what a gauge can show"),
        metavar="PRESSURE",
        help='what the gauge can show (default "1 psi")',
    )


def _of_options(own: argparse.ArgumentParser) -> None:
    own.description = (
        "Prints what to fit and set so that the bike sits and springs as it did, or as --target wants it, with what [change] asks "
        "for: travel, spacers, tyres and pressure that it does not name may change, behind stroke, spacers, coil and pressure, by "
        "the parts of [[shelf]] too. What breaks a limit is left out; of the rest those stand that no other beats in stance, "
        "spring, cost and days."
    )
    own.add_argument(
        "--limit",
        type=whole(1, MAX_OPTIONS),
        default=USUAL_OPTIONS,
        metavar="N",
        help=f"how many to print (default {USUAL_OPTIONS})",
    )
    own.add_argument(
        "--offset",
        type=quantity("length", "mm", -50, 150, "an offset"),
        metavar="LENGTH",
        action="append",
        default=[],
        help='an offset to try too, "51 mm"; may be repeated',
    )
    own.add_argument("--family", metavar="NAME", help="the fork's family: parts of another are left out")
    own.add_argument("--rear-family", metavar="NAME", help="the shock's family, likewise")
    own.add_argument(
        "--end",
        type=one_of(("front", "rear", "both")),
        metavar="END",
        help="front, rear or both (default: what [change] or --target names, else the fork where there is one)",
    )
    own.add_argument(
        "--target",
        type=named_wanted,
        metavar="WANTED",
        action="append",
        default=[],
        help='near to this in place of how it is: "sag 20%%", "rear sag 30%%", "head angle 64 deg", by the names of topout target; '
        "may be repeated",
    )
    _gauge(own)


def _of_new(own: argparse.ArgumentParser) -> None:
    own.description = "Writes a bench file with every key in it, what it is and what it may be. Nothing counts before its # is taken away."
    own.add_argument(
        "file", metavar="FILE", nargs="?", default=NEW_FILE, help=f"the file to write (default {NEW_FILE}); - prints it"
    )
    own.add_argument(
        "--from", dest="example", metavar="EXAMPLE", help="filled in as an example is: topout help examples"
    )
    own.add_argument("--overwrite", action="store_true", help="write over a file that is there already")


def _of_check_procedure(own: argparse.ArgumentParser) -> None:
    own.description = (
        "Says what a procedure of the workshop's own is, or everything that is wrong with it. Nothing is kept."
    )
    own.add_argument("file", metavar="FILE", nargs="?", help="the procedure, TOML; its name is the procedure's")
    own.add_argument("--json", action="store_true", help="print one JSON object, for programs")


def _of_help(own: argparse.ArgumentParser) -> None:
    own.description = "Prints a command's options, or a document that comes with the program."
    own.add_argument("topic", metavar="TOPIC", nargs="?", help="a command, a document, or examples")


def _of_completion(own: argparse.ArgumentParser) -> None:
    own.add_argument("shell", metavar="SHELL", nargs="?", type=one_of(SHELLS), help=f"one of {', '.join(SHELLS)}")


_OWN_OPTIONS: Final = {
    "curve": _of_curve,
    "inflate": _of_inflate,
    "target": _of_target,
    "landing": _end,
    "ride": _of_ride,
    "rebound": _of_rebound,
    "options": _of_options,
    "new": _of_new,
    "help": _of_help,
    "completion": _of_completion,
    "check-procedure": _of_check_procedure,
}


def no_such_word(word: str, known: Sequence[str], noun: str) -> WrongWord:
    """The line for a word that is not among those known."""
    import difflib

    near = difflib.get_close_matches(word, list(known), n=1)
    hint = f"Is it {near[0]}?" if near else f"Known are {', '.join(known)}."
    return WrongWord(f"{shown(word)}: no such {noun}. {hint}")


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """The command line as typed; raises WrongWord with one line. `--help` prints and leaves with status 0."""
    first = arguments[0] if arguments else "-"
    if not first.startswith("-") and first not in COMMANDS:
        raise no_such_word(first, list(COMMANDS), "command")
    if empty := without_value(arguments):
        raise WrongWord(f'{shown(empty)}: "--" is no value.')
    whole = parser([first]) if first in COMMANDS else parser(named_only=True)
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
    if result.command == "completion" and result.shell is None:
        raise WrongWord(f"the shell is missing: one of {', '.join(SHELLS)}.")
    if result.command in ANSWERING:
        _judge_files(result)
    if result.command == "target":
        _judge_target(result)
    if result.command == "rebound" and result.of is not None and (result.clicks is None or result.clicks > result.of):
        raise WrongWord("--of: the clicks in all stand beside --clicks, and are no fewer.")
    if result.command == "check-procedure" and result.file is None:
        raise WrongWord("the procedure is missing: topout check-procedure FILE.")
    return result


def _judge_target(asked: argparse.Namespace) -> None:
    """Something is asked for."""
    from topout.planner.wanted_words import WORDS

    if all(getattr(asked, name.replace("-", "_")) is None for name in WORDS):
        raise WrongWord(f"what is asked for is missing: one of {', '.join(f'--{name}' for name in WORDS)}.")


def _judge_files(asked: argparse.Namespace) -> None:
    """How many bench files, and how often standard input."""
    files = asked.files
    if not files:
        raise WrongWord(f"the bench file is missing: topout {asked.command} {_TAKES.get(asked.command, 'FILE')}.")
    if asked.command == "compare" and len(files) != 2:
        raise WrongWord(f"two bench files are compared, {len(files)} given: topout compare A B.")
    if files.count("-") > 1:
        raise WrongWord("-: standard input can be read once only.")
    if getattr(asked, "plot", None) == "":
        raise WrongWord("--plot: the picture's name is missing: a .svg, .png or .pdf file.")
    if len(files) > 1 and getattr(asked, "plot", None):
        raise WrongWord("--plot: one bench file makes one picture; give one.")
