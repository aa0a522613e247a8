"""A workshop's own procedure: the same grammar and checker as for those that come with the tool, and what is asked beyond.

What keeps hands whole is not written anew: a proof, the rounds of a filling and what a pump is held against are those
that come with the tool, by `include` or word for word. No own text takes the name of one of ours, nor of a shared group.
What no checker can know, whether the work is right for the unit, is said where the text is used (`UNCHECKED`).
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any, Final

from topout import toml_scan
from topout.errors import Fault, FaultsFound
from topout.procedures import library, opening, read
from topout.procedures.findings import SLUG, plain
from topout.procedures.model import ANSWERED, Bound, Evidence, Procedure, Step, Tolerance, Vocabulary
from topout.procedures.places import Places
from topout.procedures.roles import HOLD_JUDGED, KEEPS_HANDS
from topout.units import to_si

SUFFIX: Final = ".toml"
KEY_LETTERS: Final = 40
MOST_VERSION: Final = 9999
NAME: Final = "its name"  # the place of what is wrong with the key
UNCHECKED: Final = "The workshop’s own text. Topout’s authors have not checked it."
# The pressures of plan and maker that a pump may be held against.
_PUMPED_TO: Final = frozenset(
    {"set_pressure", "set_negative_pressure", "pressure_limit", "last_pressure", "leak_pressure"}
)
_OVER: Final = {"gauge": 4.0, "drop": 4.0, "share": 0.1, "quantity": to_si(10, "psi", "pressure")}
# No reading of a bench lies outside: a band from end to end lets everything pass. Ours, no source.
_EVERYTHING: Final = {
    "pressure": (0.0, to_si(20, "bar", "pressure")), "length": (0.0, 1.0), "torque": (0.0, 80.0), "mass": (0.0, 200.0),
    "volume": (0.0, 1e-3), "temperature": (to_si(-20, "degC", "temperature"), to_si(60, "degC", "temperature")),
    "count": (0.0, 100.0), "force": (0.0, 3000.0), "angle": (0.0, 3.0),
}  # fmt: skip
_SHARED: Final = re.compile(r"^shared (\d+)")


@dataclass(frozen=True, slots=True)
class Own:
    """A text that was checked: as it was given, and whole, with the groups of ours that it includes behind it."""

    key: str
    source: str
    whole: str
    procedure: Procedure

    @property
    def sha256(self) -> str:
        """Of the whole text, as every signed step keeps it."""
        return library.digest(self.whole)


def key_of(file_name: str) -> str:
    """The name that a file gives its procedure: without folder and ending."""
    return re.split(r"[/\\]", file_name)[-1].removesuffix(SUFFIX)


def check(data: bytes, key: str, vocabulary: Vocabulary) -> Own:
    """The procedure in these bytes under this key; raises FaultsFound with everything that is wrong, each with its line."""
    name = plain(key) or "the file"
    found = list(_key(key))
    try:
        text = _text(data, name)
        toml_scan.guard(text)
    except FaultsFound as fault:
        raise FaultsFound([*found, *fault.faults], name) from None
    except toml_scan.TooDeep as deep:
        raise FaultsFound([*found, Fault("the file", deep.what, line=deep.line)], name) from None
    found += _shadows(text)
    whole = library.whole(text)
    try:
        procedure = read.read(whole, key, vocabulary, also=partial(_faults, _shipped(vocabulary)))
    except FaultsFound as fault:
        found += [_at_home(each, text, whole) for each in fault.faults]
        raise FaultsFound(sorted(dict.fromkeys(found), key=lambda each: each.line or 0), name) from None
    if found:
        raise FaultsFound(found, name)
    return Own(key, text, whole, procedure)


def _text(data: bytes, name: str) -> str:
    if len(data) > read.FILE_LIMIT_BYTES:
        message = f"{len(data)} bytes or more; at most {read.FILE_LIMIT_BYTES} are read. Split the procedure."
        raise FaultsFound([Fault("the file", message)], name)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = data[: wrong.start].count(b"\n") + 1
        message = f"byte {data[wrong.start]:#04x} is no UTF-8. Save the file as UTF-8 text, then give it again."
        raise FaultsFound([Fault("the file", message, line=line)], name) from None
    text = text.replace("\r\n", "\n")
    read.refuse_unreadable(text, name)
    return text


def _key(key: str) -> Iterator[Fault]:
    if not SLUG.fullmatch(key) or len(key) > KEY_LETTERS:
        message = f'small letters joined by "-" are expected, at most {KEY_LETTERS}, as in "seal-check". It is the file’s name.'
        yield Fault(NAME, message, f'"{plain(key)}"', key="key")
    elif key in library.shipped_keys():
        yield Fault(NAME, "a procedure that comes with Topout has it; take another.", f'"{key}"', key="key")


def _shadows(text: str) -> list[Fault]:
    """Shared groups of the text's own that would stand in the place of ours."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return []  # the reader says so, with its line
    places, ours, found = Places(text), library.shared_keys(), []
    shared = table.get("shared")
    for number, each in enumerate(shared if isinstance(shared, list) else [], 1):
        if isinstance(each, dict) and each.get("key") in ours:
            place = f"shared {number}"
            message = "a group that comes with Topout has this key; include that one, or give yours another."
            found.append(Fault(f"{place}, key", message, f'"{each["key"]}"', places.line(place, "key"), "key"))
    return found


def _at_home(fault: Fault, text: str, whole: str) -> Fault:
    """A finding in a group of ours stands where the text includes it: no line of the whole is one that its author has."""
    if fault.line is None or whole == text or fault.line <= text.count("\n") + (not text.endswith("\n")):
        return fault
    match = _SHARED.match(fault.location)
    shared: list[dict[str, Any]] = tomllib.loads(whole).get("shared", [])
    if match is None or int(match[1]) > len(shared):
        return replace(fault, line=None)
    key = str(shared[int(match[1]) - 1].get("key", ""))
    include = re.search(rf"^[^#\n]*\binclude\s*=\s*[\"']{re.escape(key)}[\"']", text, re.MULTILINE)
    line = text.count("\n", 0, include.start()) + 1 if include is not None else None
    return replace(fault, location=f"include {key}{fault.location[match.end() :]}", line=line)


@dataclass(frozen=True, slots=True)
class _Shipped:
    """What comes with the tool: its titles as an eye takes them, and its steps as a proof is told by."""

    titles: Mapping[str, str]
    steps: frozenset[tuple[Any, ...]]


@lru_cache(maxsize=2)
def _shipped(vocabulary: Vocabulary) -> _Shipped:
    known = [read.shipped(key, vocabulary).procedure for key in library.shipped_keys()]
    steps = frozenset(_told(step) for procedure in known for step in procedure.steps())
    return _Shipped({_seen(each.title): each.title for each in known}, steps)


def _told(step: Step) -> tuple[Any, ...]:
    """What makes a step the same: all but where it stands, when, and what it says beside."""
    return step.do, step.caution, step.evidence, step.hold, step.may_skip, step.stop, step.rounds


def _seen(title: str) -> str:
    """A title as an eye takes it: no accents, no case, no signs between."""
    plain = unicodedata.normalize("NFKD", title).casefold()
    return "".join(letter for letter in plain if letter.isalnum())


def _faults(ours: _Shipped, procedure: Procedure, places: Places, stands: Mapping[str, str]) -> list[Fault]:
    found = list(_title(procedure, places, ours))
    if procedure.version > MOST_VERSION:
        message = f"a whole number from 1 to {MOST_VERSION} is expected; it goes up with every change."
        found.append(Fault("version", message, plain(str(procedure.version)), places.line("", "version"), "version"))
    for step in procedure.steps():
        if step.key in stands and _told(step) not in ours.steps:
            found += _step(step, stands[step.key], places)
    return found


def _title(procedure: Procedure, places: Places, ours: _Shipped) -> Iterator[Fault]:
    def fault(message: str) -> Fault:
        return Fault("title", message, f'"{plain(procedure.title)}"', places.line("", "title"), "title")

    if _seen(procedure.title) in ours.titles:
        yield fault(
            f"a procedure that comes with Topout is called “{ours.titles[_seen(procedure.title)]}”; take another."
        )
    for word in re.findall(r"\w+", procedure.title):
        if len({unicodedata.name(letter, "?").split(" ")[0] for letter in word if letter.isalpha()}) > 1:
            yield fault(f"“{word}” has letters of two scripts, which look like others; write it in one.")


def _step(step: Step, place: str, places: Places) -> Iterator[Fault]:
    """What a step that does not come with the tool may not be."""

    def fault(key: str, message: str, value: str = "", evidence: str = "") -> Fault:
        at = ", ".join(part for part in (place, f"evidence {evidence}" if evidence else "", key) if part)
        return Fault(at, message, value, places.line(place, key, evidence), key)

    ours = [(role, "a proof that keeps hands whole") for role in KEEPS_HANDS if step.has(role)]
    ours += [(role, "what settles which steps a job has") for role in ANSWERED if step.has(role)]
    if ours:
        yield fault(
            "evidence",
            f"{ours[0][1]} comes with Topout: include its group (docs/procedures.md says which), or copy the step word "
            "for word.",
            ours[0][0],
        )
    if opening.a_damper(step) and not any(key == "damper" for key, _ in step.when):
        yield fault(
            "when",
            'a damper may hold gas: include = "damper-out" asks for it first; when = { damper = "opened" }, or "stays-shut", says '
            "after which answer this is done.",
        )
    if step.rounds is not None:
        yield fault("rounds", 'the rounds of a filling come with Topout: include = "fill".')
    for each in step.evidence:
        if each.kind != "number":
            continue
        if "pumps" in each.roles and not _held(each):
            message = (
                'what is pumped is held against plan or maker: expect = "{set_pressure}" with within = "2 marks", or '
                'high = "{pressure_limit}".'
            )
            yield fault("expect", message, evidence=each.key)
        if step.hold and each.bounded and HOLD_JUDGED not in each.roles and _lets_all_pass(each):
            yield fault(
                "high",
                "every reading passes this band; a hold point’s can fail. Write what is right.",
                evidence=each.key,
            )


def _held(each: Evidence) -> bool:
    """Whether what is pumped can't come far above a pressure of the plan or the maker."""
    if each.high is not None and each.high.name in _PUMPED_TO:
        return True
    return each.expect is not None and each.expect.name in _PUMPED_TO and _near(each.above)


def _near(tolerance: Tolerance | None) -> bool:
    return tolerance is not None and tolerance.value <= _OVER[tolerance.kind]


def _lets_all_pass(each: Evidence) -> bool:
    """Whether no reading of a bench fails this band."""
    if each.dimension not in _EVERYTHING:
        return False
    least, most = _EVERYTHING[each.dimension]
    width = most - least
    return _past(each.low, each.expect, each.below, width, lambda off: -off, lambda end: end <= least) and _past(
        each.high, each.expect, each.above, width, lambda off: off, lambda end: end >= most
    )


def _past(
    bound: Bound | None, expect: Bound | None, off: Tolerance | None, width: float, signed: Callable[[float], float],
    past: Callable[[float], bool],
) -> bool:  # fmt: skip
    """Whether an end of a band lies where no reading comes. An end by name is one that some reading fails."""
    if bound is not None and (bound.value_si is None or not past(bound.value_si)):
        return False
    if off is None:
        return True
    if off.kind in ("gauge", "drop"):
        return False
    if expect is None or expect.value_si is None:
        return off.kind == "quantity" and off.value >= width
    return past(expect.value_si + signed(off.value if off.kind == "quantity" else off.value * abs(expect.value_si)))
