"""The procedures that come with the tool, and the groups that several of them share.

A procedure's file names a shared group by `include`. What is read, hashed and pinned is the whole text: the file with
every group that it names behind it. So a group that is changed later changes no job under way.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any, Final

from topout.procedures.model import UNITS_SERVICED

_GROUPS: Final = "groups"


def _data() -> Traversable:
    return resources.files("topout.procedures").joinpath("data")


def _keys(folder: Traversable) -> tuple[str, ...]:
    return tuple(sorted(file.name.removesuffix(".toml") for file in folder.iterdir() if file.name.endswith(".toml")))


def shipped_keys() -> tuple[str, ...]:
    """The procedures that come with the tool."""
    return _keys(_data())


def shared_keys() -> tuple[str, ...]:
    """The groups that any procedure may include."""
    return _keys(_data().joinpath(_GROUPS))


@dataclass(frozen=True)
class Head:
    """What a choice among procedures shows of one: what it is called, and the kinds of unit it is written for."""

    title: str
    units: tuple[str, ...]


@lru_cache(maxsize=64)
def head_of(text: str) -> Head:
    """The head of a text that the checker took, without its steps."""
    table = tomllib.loads(text)
    return Head(str(table["title"]), tuple(table.get("for", UNITS_SERVICED[:1])))


@lru_cache(maxsize=1)
def heads() -> dict[str, Head]:
    """The head of each procedure that comes with the tool, by its key."""
    return {key: head_of(_own(key)) for key in shipped_keys()}


def _own(key: str) -> str:
    return _data().joinpath(f"{key}.toml").read_bytes().decode("utf-8")


@cache
def text_of(key: str) -> str:
    """The whole text of a procedure as it comes with the tool today, put together once a process; KeyError for an unknown name."""
    if key not in shipped_keys():
        raise KeyError(key)
    return whole(_own(key))


def whole(text: str) -> str:
    """A file with the shared groups that it includes and does not bring itself behind it. What is no TOML stays as it is."""
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return text
    brought = {each.get("key") for each in _tables(table, "shared")}
    known = shared_keys()
    wanted = dict.fromkeys(name for name in _included(table) if name in known and name not in brought)
    parts = [text if text.endswith("\n") or not wanted else text + "\n"]
    for name in wanted:
        file = _data().joinpath(_GROUPS, f"{name}.toml")
        parts.append(f"\n# groups/{name}.toml\n{file.read_bytes().decode('utf-8')}")
    return "".join(parts)


def _included(table: dict[str, Any]) -> Iterator[str]:
    for group in _tables(table, "group"):
        for each in (group, *_tables(group, "step")):
            if isinstance(each.get("include"), str):
                yield each["include"]


def _tables(table: dict[str, Any], key: str) -> list[dict[str, Any]]:
    value = table.get(key)
    return [each for each in value if isinstance(each, dict)] if isinstance(value, list) else []


def digest(text: str) -> str:
    """The SHA-256 of a text, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def known_text(key: str, sha256: str) -> str | None:
    """The text with this SHA-256: today's, or an earlier one in `data/earlier`, named KEY.FIRST-TWELVE.toml; else None."""
    if key not in shipped_keys():
        return None
    texts = [text_of(key)]
    for file in _data().joinpath("earlier").iterdir():
        if file.name == f"{key}.{sha256[:12]}.toml":
            texts.append(file.read_bytes().decode("utf-8"))
    return next((text for text in texts if digest(text) == sha256), None)
