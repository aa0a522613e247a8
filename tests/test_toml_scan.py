"""The two scans: lines of keys against files written with known lines, the guard against hostile text."""

from __future__ import annotations

import time
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from topout import toml_scan as scan
from topout.bench_file import read
from topout.errors import FaultsFound

WORDS = st.one_of(
    st.text("abcxyz019_-", min_size=1, max_size=5),
    st.text(min_size=0, max_size=4).filter(lambda s: "\r" not in s and s.isprintable()),
    st.sampled_from(['a"b', "a.b", "#x", "[t]", "a = 1", "'", "ü", "", "\\"]),
)
SCALARS = st.sampled_from(
    [
        "1", "-2.5", "true", "nan", "1979-05-27T07:32:00Z", "'lit # = [ '", '"a \\" b # ] } = \\\\"', '""', "''",
        '"""two\nlines = 3\n[x]\n"""', "'''\nb = \"4\"\n'''", '"""a""""', '""""""', '"""\\\n   x\\""""""', "''''a'''''",
        "[1, 2, # three ]\n 3,\n]", "[]", '[["a"], ["b]"]]', "[{ q = 1 }, { r.s = '}' }]", "{}", "1_000", "0xff",
    ]
)  # fmt: skip


def written_word(draw: st.DrawFn, word: str) -> str:
    """A key's part as bare, basic or literal text."""
    ways = []
    if word and word.isascii() and all(c.isalnum() or c in "_-" for c in word):
        ways.append(word)
    if "'" not in word:
        ways.append(f"'{word}'")
    ways.append('"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"')
    return draw(st.sampled_from(ways))


@st.composite
def toml(draw: st.DrawFn) -> tuple[str, dict[scan.Path, int]]:
    """A text of TOML made line by line, and the line at which each path was first named."""
    rows: list[str] = []
    where: dict[scan.Path, int] = {}
    filler = st.sampled_from(["", "# a = 1", "   ", "\t# [x]"])

    def note(path: scan.Path) -> None:
        line = sum(row.count("\n") + 1 for row in rows) + 1
        for n in range(1, len(path) + 1):
            where.setdefault(path[:n], line)

    def pairs(table: scan.Path, used: set[str]) -> None:
        for word in draw(st.lists(WORDS, max_size=4, unique=True)):
            if word in used:
                continue
            used.add(word)
            rows.extend(draw(st.lists(filler, max_size=2)))
            parts = (word, *draw(st.lists(WORDS, max_size=2)))
            key = draw(st.sampled_from([".", " . ", "\t."])).join(written_word(draw, p) for p in parts)
            value = draw(SCALARS)
            note(table + parts)
            if draw(st.booleans()):
                inner = draw(WORDS)
                value = "{ " + written_word(draw, inner) + f" = {draw(SCALARS)} }}"
                note((*table, *parts, inner))
            rows.append(f"{draw(st.sampled_from(['', '  ']))}{key} = {value}{draw(st.sampled_from(['', ' # [z]']))}")

    names: set[str] = set()
    pairs((), names)
    for word in draw(st.lists(WORDS, max_size=4, unique=True)):
        if word in names:
            continue
        names.add(word)
        path = (word, *draw(st.lists(WORDS, max_size=2)))
        items = draw(st.integers(0, 3))  # of an array of tables; none is a plain table
        left, right = ("[[", "]]") if items else ("[", "]")
        for n in range(items or 1):
            here: scan.Path = (*path, n) if items else path
            rows.extend(draw(st.lists(filler, max_size=2)))
            note(here)
            rows.append(f"{left} {'.'.join(written_word(draw, p) for p in path)} {right}")
            pairs(here, set())
    return "\n".join(rows), where


def paths(data: Any, path: scan.Path = ()) -> set[scan.Path]:
    """Every path of what the parser made; the items of an array by their number, those that are tables named themselves."""
    found: set[scan.Path] = set()
    if isinstance(data, dict):
        for word, value in data.items():
            found |= {(*path, word)} | paths(value, (*path, word))
    elif isinstance(data, list):
        for n, item in enumerate(data):
            found |= ({(*path, n)} if isinstance(item, dict) else set()) | paths(item, (*path, n))
    return found


@settings(max_examples=60, deadline=None)
@given(toml())
def test_lines_are_those_of_the_text(made: tuple[str, dict[scan.Path, int]]) -> None:
    lines_are_those_of(*made)


@pytest.mark.soak
@settings(max_examples=2000, deadline=None)
@given(toml())
def test_lines_are_those_of_many_texts(made: tuple[str, dict[scan.Path, int]]) -> None:
    lines_are_those_of(*made)


def lines_are_those_of(text: str, where: dict[scan.Path, int]) -> None:
    data = tomllib.loads(text)
    scan.guard(text)
    found = scan.lines(text)
    assert set(found) == paths(data), "every path that the parser knows, and no other"
    for path, line in where.items():
        assert found[path] == line, path


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="ab\"'\\\n.=[]{},# 1-", max_size=60))
def test_what_the_parser_accepts_the_scan_can_walk(text: str) -> None:
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    scan.guard(text)
    assert set(scan.lines(text)) == paths(data)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a.b.c.d.e.f.g.h.i = 1", 1),
        ("x = 1\n[a.b.c.d.e.f.g.h.i]", 2),
        ('x = """\n\n"""\n"a".b."c".d.e.f.g.h.i = 1', 4),
        ("x = [[[[[[[[[1]]]]]]]]]", 1),
        ("x = 1\n\ny = {a={a={a={a={a={a={a={a={a=1}}}}}}}}}", 3),
        ("x = " + "1" * 201, 1),
    ],
)
def test_too_deep_is_refused_with_its_line(text: str, line: int) -> None:
    with pytest.raises(FaultsFound) as caught:
        read.read_text(text)
    (fault,) = caught.value.faults
    assert fault.line == line and "more than" in fault.message


@pytest.mark.parametrize("text", ["a.b.c.d.e.f.g.h = 1", "x = [[[[[[[[1]]]]]]]]", "x = 1.5\ny = '" + "." * 50 + "'"])
def test_the_limit_itself_is_not_too_deep(text: str) -> None:
    scan.guard(text)


MOST = 256 * 1024  # letters that a file may have
DAILY = MOST // 4


def hostile(most: int) -> dict[str, str]:
    """What costs a careless reader more than its length, each of so many letters at most."""
    return {
        "dots": "a" + ".a" * (most // 2 - 4) + "=1",
        "dots alone": "." * most,
        "dots with blanks": "a" + " . a" * (most // 4 - 2),
        "a header of dots": "[a" + ".a" * (most // 2 - 4) + "]",
        "open brackets": "a=" + "[" * (most - 2),
        "open braces": "a=" + "{a=" * (most // 3 - 1),
        "header brackets": "[" * most,
        "quotes": '"' * most,
        "openers that never close": '"""\n' * (most // 4 - 1) + "\\",
        "literal openers": "'''\n" * (most // 4),
        "escapes": 'a="' + "\\n" * (most // 2 - 4) + '"',
        "escapes in a long text": 'a="""' + "\\t" * (most // 2 - 8) + '"""',
        "backslashes": "\\" * most,
        "line ends": "\n" * most,
        "carriage returns": "\r" * most,
        "blanks": " " * most,
        "comments": "#\n" * (most // 2),
        "digits": "a=" + "9" * (most - 2),
        "a long key": "a" * (most - 4) + "=1",
        "a long quoted key": '"' + "k" * (most - 6) + '"=1',
        "an array of ones": "a=[" + "1," * (most // 2 - 4) + "]",
        "keys": "".join(f"k{n}=1\n" for n in range(most // 10)),
        "tables": "".join(f"[t{n}]\n" for n in range(most // 10)),
        "the same table": "[[fork]]\n" * (most // 9),
        "keys like ours": "[fork.air]\n" + "".join(f"bore{n}='1 mm'\n" for n in range(most // 18)),
        "dotted keys": "".join(f"a.b{n}.c.d.e.f.g=1\n" for n in range(most // 21)),
        "equals": "=" * most,
        "commas": "a=[" + "," * (most - 4),
    }


@pytest.mark.parametrize("most", [DAILY, pytest.param(MOST, marks=pytest.mark.soak)])
@pytest.mark.parametrize("name", hostile(100))
def test_hostile_text_is_refused_at_once(name: str, most: int) -> None:
    """A quarter of what a file may have shows daily what grows faster than its length."""
    text = hostile(most)[name]
    assert 0.7 * most < len(text) <= most
    start = time.process_time()
    try:
        read.read_text(text)
        assert not text.strip() or name == "comments"
    except FaultsFound as found:
        assert found.faults and all(len(str(f)) < 400 for f in found.faults)
    assert time.process_time() - start < 5 * most / MOST, "seconds; the slowest takes about a fifth of that"


@pytest.mark.parametrize(
    ("text", "more", "says"),
    [
        ("x = " + "1" * 200, "x = " + "1" * 201, "more than 200 letters"),
        ("a" * 200 + " = 1", "a" * 201 + " = 1", "more than 200 letters"),
        (".".join("abcdefgh") + " = 1", ".".join("abcdefghi") + " = 1", "more than 8"),
        ("x = " + "[" * 8 + "]" * 8, "x = " + "[" * 9 + "]" * 9, "more than 8"),
    ],
)
def test_the_guard_lets_by_what_stands_at_its_limit(text: str, more: str, says: str) -> None:
    scan.guard(text)
    with pytest.raises(scan.TooDeep) as refused:
        scan.guard(more)
    assert says in refused.value.what and refused.value.line == 1
