"""Two small scans over the text of a TOML file, which the standard parser does not make for us.

`guard` runs before parsing, on anything: one pass that counts parts of keys and depth of brackets, so that nothing
handed to the parser can cost more than its length. `lines` runs only when there is a fault, on text the parser has
accepted: where each key and table stands. Bench files and procedures are read by the same two.
"""

from __future__ import annotations

import re
import tomllib
from typing import Final

MAX_PARTS: Final = 8  # of a key or header, as in a.b.c
MAX_DEPTH: Final = 8  # of brackets and braces
MAX_WORD: Final = 200  # letters of a bare word or number; endless ones are no value here

Path = tuple[str | int, ...]

# One alternative per thing that may stand in TOML; each ends where the parser would end it or go wrong, and none
# can try the same letter twice, so the pass is linear. No possessive quantifier: Debian 12's Python matches too little with one.
_TOKEN: Final = re.compile(
    r'(?P<long>"{3}[^"\\]*(?:(?:\\.|"(?!""))[^"\\]*)*(?:"{3,5}|\\?\Z)'
    r"|'{3}[^']*(?:'(?!'')[^']*)*(?:'{3,5}|\Z))"
    r'|(?P<short>"[^"\\\n]*(?:\\[^\n][^"\\\n]*)*"?|\'[^\'\n]*\'?)'
    r"|(?P<comment>\#[^\n]*)"
    r"|(?P<newline>\n)"
    r"|(?P<open>[\[{])|(?P<close>[\]}])"
    r"|(?P<dot>\.)|(?P<end>[=,])"
    r"|(?P<word>[A-Za-z0-9_+:-]+)"
    r"|(?P<other>.)",
    re.DOTALL,
)


# What says nothing between two things: space, line ends, comments, and one letter more where that may stand too.
_SPACE: Final = {also: re.compile(rf"(?:[ \t\r\n{also}]+|\#[^\n]*)*") for also in ("", ".", ",")}


class TooDeep(ValueError):
    """The text is not handed to the parser; carries the line and what was too much there."""

    def __init__(self, line: int, what: str) -> None:
        self.line, self.what = line, what
        super().__init__(what)


def guard(text: str) -> None:
    """Raise TooDeep where a key has more than 8 parts, brackets more than 8 levels, or a bare word 200 letters."""
    line, depth, dots = 1, 0, 0
    for token in _TOKEN.finditer(text):
        kind = token.lastgroup
        if kind == "newline":
            line += 1
            dots = 0
        elif kind == "long":
            line += token.group().count("\n")
        elif kind == "open":
            depth, dots = depth + 1, 0
            if depth > MAX_DEPTH:
                raise TooDeep(line, f"brackets stand more than {MAX_DEPTH} deep; no file of Topout needs more than 3.")
        elif kind == "close":
            depth = max(depth - 1, 0)
        elif kind == "end":
            dots = 0
        elif kind == "dot":
            dots += 1
            if dots >= MAX_PARTS:
                raise TooDeep(line, f"a key has more than {MAX_PARTS} parts; no file of Topout needs more than 3.")
        elif kind == "word" and token.end() - token.start() > MAX_WORD:
            raise TooDeep(line, f"a word or number has more than {MAX_WORD} letters.")


def lines(text: str) -> dict[Path, int]:
    """The line of every key and table of a text that the parser has accepted; path -> line, from 1.

    A path is words, and the number of an item, from 0, where a table is one of an array. A table that is named several
    times, or only by the keys inside it, stands where it is first named.
    """
    return _Lines(text).found


class _Lines:
    """One walk through accepted text."""

    def __init__(self, text: str) -> None:
        self.text, self.at, self.line = text, 0, 1
        self.found: dict[Path, int] = {}
        self.items: dict[Path, int] = {}  # an array of tables -> the number of its last item so far
        table: Path = ()
        while self._skip():
            if self.text[self.at] == "[":
                brackets = 2 if self.text.startswith("[[", self.at) else 1
                self.at += brackets
                table = self._table(self._key(), brackets == 2)
                self._note((), table)
                self.at += brackets
            else:
                self._pair(table)

    def _table(self, named: Path, another: bool) -> Path:
        """The path that a header stands for; `another` is one more item of an array."""
        path: Path = ()
        for n, word in enumerate(named, 1):
            path = (*path, word)
            if another and n == len(named):
                self.items[path] = self.items.get(path, -1) + 1
            if path in self.items:
                path = (*path, self.items[path])
        return path

    def _note(self, table: Path, key: Path) -> None:
        for n in range(1, len(key) + 1):
            self.found.setdefault(table + key[:n], self.line)

    def _skip(self, also: str = "") -> bool:
        """Move over space, line ends and comments (and the letters of `also`); False at the end of the text."""
        space = _SPACE[also].match(self.text, self.at)
        assert space is not None  # of any length, none too
        self.line += space.group().count("\n")
        self.at = space.end()
        return self.at < len(self.text)

    def _key(self) -> Path:
        parts: list[str] = []
        while True:
            self._skip(".")
            token = _TOKEN.match(self.text, self.at)
            if token is None or token.lastgroup not in ("short", "word"):
                return tuple(parts)
            raw = token.group()
            parts.append(next(iter(tomllib.loads(f"{raw} = 0"))) if token.lastgroup == "short" else raw)
            self.at = token.end()
            self._blanks()
            if not self.text.startswith(".", self.at):
                return tuple(parts)

    def _blanks(self) -> None:
        while self.text.startswith((" ", "\t"), self.at):
            self.at += 1

    def _pair(self, table: Path) -> None:
        key = self._key()
        self._note(table, key)
        self._blanks()
        self.at += 1  # the equals sign
        self._value(table + key)

    def _value(self, path: Path) -> None:
        self._skip()
        token = _TOKEN.match(self.text, self.at)
        assert token is not None
        if token.group() == "{":
            self.found.setdefault(path, self.line)
            self.at += 1
            while self._skip(",") and self.text[self.at] != "}":
                self._pair(path)
            self.at += 1
        elif token.group() == "[":
            self.at += 1
            item = 0
            while self._skip(",") and self.text[self.at] != "]":
                self._value((*path, item))
                item += 1
            self.at += 1
        elif token.lastgroup in ("long", "short"):
            self.line += token.group().count("\n")
            self.at = token.end()
        else:  # a number, a date, a word: to where the value must end
            while self.at < len(self.text) and self.text[self.at] not in ",]}\n#":
                self.at += 1
