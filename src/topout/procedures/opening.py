"""What the words of a step do with pressure, whatever its roles say: a text that opens something needs its proofs.

A role that was forgotten, or left out on purpose, is no way round the order that `order.py` holds. Only a sentence that
tells a hand to do it is understood, by its first word; the lists are ours. Where they take a step for what it is not,
other words are the way out: they are better words for the one who reads them at the bench, too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from topout.procedures import words
from topout.procedures.model import Evidence, Step

_SENTENCE: Final = re.compile(r"(?<=[.!?:;])\s+")
_FIRST: Final = re.compile(r"(?:(?:then|now|next|first|last|so),?\s+)?([a-z]+)\b")
_AWAY: Final = re.compile(r"\b(off|out|free|loose|open|apart|undone)\b")
_OPEN: Final = frozenset({"open", "unscrew", "undo", "remove", "loosen", "disassemble"})  # these say it by themselves
_TAKE: Final = frozenset(
    {"take", "pull", "lift", "slide", "turn", "tap", "release", "draw", "screw", "push", "press", "drive"}
)
# No word of the trade for something that pressure may stand behind, though one is in it.
_HARMLESS: Final = re.compile(
    r"\b((valve|dust) caps?|caps? of the valves?|o-rings?|pulled out|pull it (right )?out|(pulled|pull) right out|off the (ground|floor|stand|bench))\b"
)
_BEHIND: Final = re.compile(
    r"\b(caps?|cans?|sleeves?|lowers|lower legs?|foot (bolt|nut|stud)s?|studs|dampers?|air (side|spring|chamber)|"
    r"compensators?|reservoirs?|retainers?)\b"
)
_RETAINED: Final = re.compile(r"\b(circlips?|(retaining|snap) rings?|seal heads?|air shafts?|shafts?|pistons?)\b")
_WHOLE: Final = re.compile(r"\b(forks?|shocks?|units?|springs?)\b")
_IT: Final = re.compile(
    r"(?:(?:then|now|next|first|last|so),?\s+)?[a-z]+ (it|them|both|everything)\b(?! \w+s\b)"
)  # told by the step before alone
_WHEEL: Final = re.compile(r"\b(wheels?)\b")
_AIR: Final = re.compile(r"\b(air|chamber)\b(?!.*\boil\b)")
_PUMP_ON: Final = re.compile(r"pump on\b")  # the pump screwed on, to read
_TYRE: Final = re.compile(r"\b(tyres?|tires?|tubes?)\b")


def roles(step: Step) -> frozenset[str]:
    """The roles that a step's words give it, beside those that it says itself."""
    return _of_words(f"{step.do} {step.detail}")


def does(step: Step, role: str) -> bool:
    """Whether a step does what may hurt, by its role or by its words. A proof is one by its role alone."""
    return step.has(role) or role in roles(step)


def pumped_to(step: Step, each: Evidence) -> bool:
    """Whether an answer says that something was pumped, or to what: by its role, or where the words alone say that the step pumps."""
    return "pumps" in each.roles or each.dimension == "pressure" and not step.has("pumps") and "pumps" in roles(step)


@lru_cache(maxsize=512)
def _of_words(told: str) -> frozenset[str]:
    text = words.whole(told)  # a bracket before a verb hides it from nobody
    return frozenset(role for sentence in _SENTENCE.split(text) for role in _roles(sentence))


def _roles(sentence: str) -> Iterator[str]:
    said = sentence.casefold()
    first = _FIRST.match(said)
    if first is None:
        return
    verb = first[1]
    fills = verb in ("pump", "inflate") and not _PUMP_ON.match(said) or verb == "fill" and _AIR.search(said)
    if fills and not _TYRE.search(said):
        yield "pumps"
    said = _HARMLESS.sub("", said)
    takes_off = verb in _TAKE and _AWAY.search(said) is not None
    if verb in _OPEN or takes_off:
        if _RETAINED.search(said) and "damper" not in said:
            yield "ring-out"
        elif (
            _BEHIND.search(said)
            or _IT.match(said)
            or (_WHOLE.search(said) and re.search(r"\b(open|apart|disassemble)\b", said))
        ):
            yield "opens"
        if _WHEEL.search(said) and verb in ("take", "pull", "slide", "remove", "release"):
            yield "wheel-out"
