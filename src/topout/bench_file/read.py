"""Reading a bench file: every finding at once, each with its table, key, value, what was expected, and its line.

Three gates in this order: the text itself (size, encoding, depth), TOML's grammar (one finding, with its line), the
content (all findings). What stands in the file is judged here; what a command needs and does not find there is
`checks.require`'s business, so a table that a command does not need may be short.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from collections.abc import Iterable
from dataclasses import replace
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Final

from topout import toml_scan, units
from topout.bench_file import belongs, checks, model, say, values
from topout.errors import Fault, FaultsFound
from topout.uncertainty.doubt import Doubt

if TYPE_CHECKING:
    from topout.bench_file.parts import Part

MAX_BYTES: Final = 256 * 1024
MAX_ASKED: Final = 50  # unknown words that are compared with the known ones; the rest is only named

MAX_NEAR: Final = 3  # keys that are asked about

Path = tuple[str, ...]


def read(path: str | os.PathLike[str]) -> model.BenchFile:
    """Read a bench file; raises FaultsFound with every finding."""
    return read_bytes(bytes_of(path), os.fspath(path))


def bytes_of(path: str | os.PathLike[str], most: int | None = None, noun: str = "bench file") -> bytes:
    """What a file or a pipe holds, as far as it may be long (a bench file's length) and a byte more; raises FaultsFound."""
    name = os.fspath(path)

    def fault(message: str) -> FaultsFound:
        return FaultsFound([Fault(location=say.plain(name, 300) or '""', message=message)], "")

    try:
        mode = os.stat(name).st_mode
        if stat.S_ISDIR(mode):
            raise fault(f"that is a folder; a {noun} is expected.")
        if not (stat.S_ISREG(mode) or stat.S_ISFIFO(mode)):
            raise fault(f"that is neither a file nor a pipe; write the {noun} to one first.")
        with open(name, "rb") as file:
            return file.read((MAX_BYTES if most is None else most) + 1)
    except FileNotFoundError:
        raise fault("there is no such file.") from None
    except PermissionError:
        raise fault("this file may not be read by you; look at its permissions.") from None
    except (OSError, ValueError) as error:  # a name with NUL, a name too long, a broken disk
        raise fault(f"this file can't be read ({getattr(error, 'strerror', None) or error}).") from None


def read_bytes(data: bytes, source: str = "") -> model.BenchFile:
    """Read a bench file as it came from a disk or a form; `source` names it in the findings."""
    return read_with_tables(data, source)[0]


def read_with_tables(data: bytes, source: str = "") -> tuple[model.BenchFile, dict[str, Any]]:
    """A bench file, and its tables as TOML gives them: what a person typed, units and all. Raises FaultsFound."""
    tables, bench = _parsed(_decoded(data, source), source)
    return bench, tables


def _decoded(data: bytes, source: str) -> str:
    """The text of a file, refused where it is too large or no plain text in UTF-8."""

    def fault(message: str, line: int | None = None) -> FaultsFound:
        return FaultsFound(
            [Fault(location="the file" if line is None else "the text", message=message, line=line)], source
        )

    if len(data) > MAX_BYTES:
        raise fault(f"more than {MAX_BYTES // 1024} KiB; a bench file has about 2.")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise fault("this is UTF-16; save it as UTF-8.")
    nul = data.find(b"\0")
    if nul >= 0:
        raise fault("a NUL byte stands here; a bench file is plain text in UTF-8.", data.count(b"\n", 0, nul) + 1)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise fault("a letter here is not UTF-8; save the file as UTF-8.", line) from None
    return text


def read_tables(data: dict[str, Any], source: str = "") -> model.BenchFile:
    """Read tables that hold what a bench file's text would, `{"rider": {"mass": "82 kg"}}`; findings have no lines."""
    bench, faults = _content(data)
    if faults:
        raise FaultsFound(faults, source)
    return bench


def read_text(text: str, source: str = "") -> model.BenchFile:
    """Read the text of a bench file; `source` names it in the findings. Raises FaultsFound with every finding."""
    return read_bytes(text.encode("utf-8", "surrogatepass"), source)


def _parsed(text: str, source: str) -> tuple[dict[str, Any], model.BenchFile]:
    text = text.replace("\r\n", "\n")
    try:
        toml_scan.guard(text)
        data = tomllib.loads(text)
    except toml_scan.TooDeep as deep:
        raise FaultsFound([Fault(location="the text", message=deep.what, line=deep.line)], source) from None
    except tomllib.TOMLDecodeError as error:
        raise FaultsFound([_syntax(text, error)], source) from None
    bench, faults = _content(data)
    if faults:
        raise FaultsFound(_with_lines(faults, text), source)
    return data, bench


def _content(data: dict[str, Any]) -> tuple[model.BenchFile, list[Fault]]:
    """What tables hold, and every finding."""
    reading = _Reading()
    bench = reading.bench(data)
    return bench, [*reading.faults, *checks.contradictions(bench, reading.bad, reading.written)]


def _with_lines(faults: Iterable[Fault], text: str) -> list[Fault]:
    """The findings with their lines, in the order of the file."""
    found: dict[str, int] = {}
    for path, line in toml_scan.lines(
        text
    ).items():  # a table of several stands by its number, and where the first begins
        found.setdefault(".".join(word for word in path if isinstance(word, str)), line)
        found.setdefault(".".join(map(str, path)), line)
    placed = [
        Fault(location=f.location, message=f.message, value=f.value, key=f.key, line=found.get(f.key)) for f in faults
    ]
    return sorted(placed, key=lambda f: f.line if f.line is not None else len(text))


def _syntax(text: str, error: tomllib.TOMLDecodeError) -> Fault:
    """The parser's finding with its line, and what people most often meant there."""
    said = str(error)
    match = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)", said)
    rows = text.split("\n")
    number = min(int(match.group(1)), len(rows)) if match and match.group(1) else len(rows)
    row = rows[number - 1][: toml_scan.MAX_WORD]
    said = say.plain(said[: match.start()] if match else said, 120)
    message = f"this can't be read as TOML ({said[:1].lower()}{said[1:]})."
    pair = re.match(r"\s*([A-Za-z0-9_.-]+)\s*=\s*([^#]*[^#\s])", row)
    if pair is None:
        header = re.match(r"\s*\[\[?\s*([A-Za-z0-9_.-]+)\s*\]", row)
        table = tuple(header.group(1).split(".")) if header else ()
        if doubled := belongs.twice(said, rows, number, table):
            return Fault(location=say.table_place(table) if table else "the text", message=doubled, line=number)
        return Fault(location="the text", message=message, line=number)
    written = pair.group(2)
    quantity = re.fullmatch(r"([+-]?\d+)([.,]\d+)?\s*([^\d\s\"'.,_:-].*)?", written)
    if quantity and (quantity.group(2) or quantity.group(3)):
        value = quantity.group(1) + (quantity.group(2) or "").replace(",", ".")
        point = "write a decimal point: " if "," in written else ""
        if quantity.group(3):
            message = f'{point or "a value with a unit stands in quotes: "}"{value} {say.plain(quantity.group(3))}".'
        elif point:
            message = f"{point}{value}"
    header = next((h for r in rows[number - 1 :: -1] if (h := re.match(r"\s*\[([A-Za-z0-9_.]+)\]", r))), None)
    path = (*(header.group(1).split(".") if header else ()), *pair.group(1).split("."))
    message = belongs.twice(said, rows, number, path) or message
    return Fault(location=say.place(path), message=message, value=say.plain(written), line=number)


_NOT_IN_FRONT: Final = ("front_wheel.sag", "change.front_wheel.sag")  # a wheel's own sag is the rear one's


class _Reading:
    """One walk over the parsed file: values by attribute, and what was found at fault on the way."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.bad: set[str] = set()  # paths whose value is not known: nothing is concluded from them
        self.written: dict[str, str] = {}  # path -> the value as it stands in the file
        self.doubts: list[Doubt] = []
        self._asked = 0

    def bench(self, data: dict[str, Any]) -> model.BenchFile:
        tables = self._table(model.BenchFile, data, ())
        doubts = tuple(sorted(self.doubts, key=attrgetter("key")))
        return model.BenchFile(**tables, doubts=doubts, written=frozenset(self.written))

    def _fault(self, path: Path, message: str, raw: Any = None, *, table: bool = False) -> None:
        self.bad.add(".".join(path))
        where = say.table_place(path) if table else say.place(path)
        value = "" if raw is None else say.written(raw)
        self.faults.append(Fault(location=where, message=message, value=value, key=".".join(path)))

    def _table(self, table: type, data: dict[str, Any], path: Path) -> dict[str, Any]:
        keys, inner = model.keys(table), model.subtables(table)
        values: dict[str, Any] = {}
        for word, raw in data.items():
            here = (*path, word)
            if ".".join(here) in _NOT_IN_FRONT:
                self._fault(here, belongs.said_of("sag"), raw)
                continue
            if word in keys:
                attribute, key = keys[word]
                self.written[".".join(here)] = say.written(raw)
                value = self._value(key, raw, here)
                if value is not None:
                    values[attribute] = value
            elif word in inner:
                if ".".join(here) not in model.MEANT or not _says_nothing(raw):
                    values[word] = self._inner(inner[word], raw, here)
            else:
                self._unknown(here, raw, [*keys, *inner])
        return values

    def _inner(self, table: type, raw: Any, path: Path) -> Any:
        if not isinstance(raw, dict):
            what = f"one table is expected, [{'.'.join(path)}]."
            self._fault(path, what, None if isinstance(raw, list) else raw)
            return None
        values = self._table(table, raw, path)
        named_alone = path[:1] == ("change",) and path[-1] in model.NAMED_ALONE
        return values if named_alone else table(**values)

    def _unknown(self, path: Path, raw: Any, known: list[str]) -> None:
        table = isinstance(raw, dict) or (isinstance(raw, list) and len(path) == 1)
        self._asked += 1
        message = "no such table." if table else "no such key."
        if self._asked <= MAX_ASKED and (hint := _hint(path, known, table)):
            message += f" {hint}"
        self._fault(path, message, table=table)

    def _value(self, key: model.Key, raw: Any, path: Path) -> Any:
        try:
            if key.kind == "coil":
                return self._coil(raw, path)
            if key.kind == "readings":
                return self._readings(raw, path)
            if key.kind == "parts":
                return self._parts(raw, path)
            value, off = values.doubted(key, raw)
            if off is not None:
                self.doubts.append(replace(off, key=".".join(path)))
            return value
        except units.UnitFault as fault:
            self._fault(path, str(fault), raw)
            return None

    def _coil(self, raw: Any, path: Path) -> model.NegativeCoil | None:
        if not isinstance(raw, dict):
            raise units.UnitFault('rate and length are expected, { rate = "4 N/mm", length = "30 mm" }.')
        return model.NegativeCoil(**self._table(model.NegativeCoil, raw, path))

    def _readings(self, raw: Any, path: Path) -> tuple[model.Reading, ...] | None:
        if not isinstance(raw, list) or not all(isinstance(each, dict) for each in raw):
            raise units.UnitFault(
                'tables are expected, [[found.reading]] with travel = "70 mm" and pressure = "118 psi".'
            )
        if len(raw) > MOST_READINGS:
            raise units.UnitFault(f"at most {MOST_READINGS} are expected.")
        needed = {word: attribute for word, (attribute, key) in model.keys(model.Reading).items() if key.needed}
        found: list[model.Reading] = []
        for each in raw:
            before = len(self.doubts)
            values = self._table(model.Reading, each, path)
            # of the readings each has its own doubts: its number stands in their key
            own = [
                replace(off, key=f"{'.'.join(path)}.{len(found)}.{off.key.rpartition('.')[2]}")
                for off in self.doubts[before:]
            ]
            self.doubts[before:] = own
            for word in needed:
                if word not in each:
                    self._fault((*path, word), f"is needed in each reading, as in {_READING[word]}.")
            if values.keys() >= {*needed.values()}:
                found.append(model.Reading(**values))
        return tuple(found)

    def _parts(self, raw: Any, path: Path) -> tuple[Part, ...] | None:
        from topout.bench_file import parts  # a file without a shelf is read without it

        if not isinstance(raw, list) or not all(isinstance(each, dict) for each in raw):
            raise units.UnitFault(
                f"tables are expected, [[shelf]] with {parts.sample('kind')} and {parts.sample('gives')}."
            )
        if len(raw) > MOST_PARTS:
            raise units.UnitFault(f"at most {MOST_PARTS} parts are expected.")
        found = []
        for number, each in enumerate(raw):
            here = (*path, str(number))
            kind = parts.of_kind(each)
            # What a part of no known kind gives can't be judged; its kind is what is at fault then.
            values = self._table(
                kind, {word: v for word, v in each.items() if kind is not parts.Part or word != "gives"}, here
            )
            for word in parts.NEEDED:
                if word not in each:
                    message = f"is needed for each part, as in {parts.sample(word, each.get('kind'))}."
                    self.faults.append(Fault(location=say.place((*here, word)), message=message, key=".".join(here)))
            for off in [off for off in self.doubts if off.key.startswith(f"shelf.{number}.")]:
                self.doubts.remove(off)
                word = off.key.rpartition(".")[2]
                self._fault(
                    (*here, word), "a part of the shelf carries no uncertainty; give the value alone.", each[word]
                )
            found.append(kind(**values))
        return tuple(found)


MOST_READINGS: Final = 20
MOST_PARTS: Final = 1000
_READING: Final = {"travel": 'travel = "70 mm"', "pressure": 'pressure = "118 psi"'}


def _says_nothing(raw: Any) -> bool:
    """A table without a key, as are those inside it."""
    return isinstance(raw, dict) and all(_says_nothing(inner) for inner in raw.values())


def _hint(path: Path, known: list[str], table: bool) -> str:
    """What a word that this table does not know may have been: said otherwise, misspelt, or of another table."""
    word = path[-1]
    near = say.nearest(word, known)
    if table:
        return f"Is it [{'.'.join((*path[:-1], near))}]?" if near else belongs.table_elsewhere(path)
    longer = [key for key in known if word in key.split("_")]  # a share here is the front_share
    if longer:
        named = list(dict.fromkeys([*longer, *([near] if near else [])]))[:MAX_NEAR]
        return f"Is it {say.either(named)}?"
    return belongs.said_of(word) or belongs.elsewhere(word) or (f"Is it {near}?" if near else "")
