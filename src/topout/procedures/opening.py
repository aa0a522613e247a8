"""What the words of a step do with pressure, whatever its roles say: a text that opens something needs its proofs.

A role that was forgotten, or left out on purpose, is no way round the order that `order.py` holds. Only a sentence that
tells a hand to do it is understood, by its first word or the first after a comma or an "and", whatever adverb stands before
it, or one that tells what comes off: "The cap comes off." The lists are ours. Where they take a step for what it is not, other words are the way out: they are better words for the
one who reads them at the bench, too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

from topout.procedures import words
from topout.procedures.model import Evidence, Step

_SENTENCE: Final = re.compile(r"(?<=[.!?:;])\s+")
_PART: Final = re.compile(
    r",\s+|\s+(?:and|then)\s+|\s+–\s+"
)  # "wipe it and unscrew the cap", "with the socket, unscrew it"
_BEFORE: Final = r"(?:(?:then|now|next|first|last|so|again|please|you|may|can|must|should|[a-z]+ly),?\s+)*"  # "you may now carefully"
_FIRST: Final = re.compile(rf"{_BEFORE}([a-z]+)\b")
_AWAY: Final = re.compile(r"\b(off|out|free|loose|open|apart|undone|aside|to pieces)\b")
# "The cap now comes off.": what it is, told by its head noun, and how it goes; "is open" and "is off" tell how it is.
_GOES: Final = re.compile(
    r"(?:(?:then|now|next|first|last|so|again),?\s+)*(?:the|its|their|each|both|this|that|all)(\s+[^,;]*?)\s(?:(?:now|then|can|may|must)\s)*"
    r"(?:(?:comes?|go|goes|slides?|pulls?|lifts?|drops?|screws?|threads?|(?:is|are|be|gets?)\s(?:[a-z]+ly\s)?(?:taken|pulled|lifted|slid|screwed|turned|pushed|driven|tapped))\b(.*)"
    r"|(?:unscrews?|(?:is|are|be|gets?)\s(?:[a-z]+ly\s)?(?:opened|unscrewed|undone|removed|loosened|unthreaded|unbolted|withdrawn|extracted))\b)"
)
_OF: Final = re.compile(r"\b(of|in|at|on|from|behind|under|below|with|over)\b")
_OPEN: Final = frozenset({
    "open", "unscrew", "undo", "remove", "loosen", "disassemble", "dismantle", "unthread", "unwind", "unbolt", "withdraw", "extract", "unclip", "unseat", "separate",
})  # fmt: skip  # these say it by themselves
_TAKE: Final = frozenset({
    "take", "pull", "lift", "slide", "turn", "tap", "release", "draw", "screw", "push", "press", "drive", "back", "crack", "spin", "knock", "get", "drop", "pop",
    "prise", "pry", "wind", "work", "ease", "slip", "twist", "bring", "wriggle", "lever", "pick", "hook", "break", "hit", "strike", "hammer", "strip",
})  # fmt: skip
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
_IT: Final = re.compile(rf"{_BEFORE}[a-z]+ (it|them|both|everything)\b(?! \w+s\b)")  # told by the step before alone
# What goes without a word of "off" or "out": the thread turned back, the ring lifted, the lowers slid down, the cap laid aside.
_TURNS: Final = frozenset({"turn", "screw", "spin", "wind", "twist", "work"})
_BACK: Final = re.compile(r"\b(anti-?clockwise|counter-?clockwise|to the left|backwards|back)\b")
_KNOB: Final = re.compile(r"\b(knobs?|adjusters?|dials?|levers?)\b")
_LETS_GO: Final = re.compile(
    r"(?:(?:release|lift|pull|draw|hook|pick) (?:the |its |both |each )?(?:circlips?|(?:retaining|snap) rings?|seal heads?|air shafts?)"
    r"|(?:release|lift) (?:the |its |both |each )?(?:top |air )?(?:caps?|cans?|lowers)"
    r"|(?:set|put|lay) (?:the |its |both )?(?:(?:top |air )?(?:caps?|cans?)|lowers|circlips?|seal heads?|air shafts?)(?= aside\b))\b"
)
_DOWN: Final = re.compile(
    r"\b(lowers|lower legs?)\b.*\b(down|from)\b|\b(circlips?|(?:retaining|snap) rings?|air shafts?)\b.*\bfrom\b"
)
_CLOSES: Final = re.compile(r"\b(on|onto|home|in|into|over|hard|tight)\b")
_APART: Final = re.compile(r"\b(open|apart|disassemble|dismantle|to pieces)\b")
_WHEEL: Final = re.compile(r"\b(wheels?)\b")
_PUMPS: Final = frozenset({"pump", "inflate", "pressurise", "pressurize"})
_FILLS: Final = frozenset({"fill", "refill", "charge", "recharge"})  # what holds air, or to a pressure
_PUTS: Final = frozenset({"blow", "put", "give", "add", "bring", "set", "top"})  # air in, or so many psi
_PRESSURE: Final = re.compile(
    r"\bair\b(?! (shaft|spring|side|valve|cap|can|piston|sleeve|hose|pump))|\b[1-9][0-9.]* ?(psi|bar|kpa)\b|\{set_pressure\}"
)
_DAMPER: Final = re.compile(
    r"\b(compensators?|reservoirs?|dampers?(['’]s)?( top)? caps?|dampers?(?!['’]s)(?! (legs?|side|rod|foot|shaft)))\b"
)
_CHAMBER: Final = re.compile(r"\bchambers?\b")
_NO_AIR: Final = re.compile(
    r"\b(oil|grease|rebound|compression|clicks?|spacers?|seals?|pistons?|o-rings?|shafts?|gauges?)\b"
)
_RAISES: Final = frozenset(
    {"take", "raise", "lift", "draw", "run", "let", "press", "push", "get"}
)  # air in, or it to so many psi
_UP_TO: Final = re.compile(
    r"\bto (?:[1-9][0-9.]* ?(?:psi|bar|kpa)\b|\{set_pressure\})|^[a-z]+ (?:some |more )?air (?:in|into)\b|^let\b.*\b(?:psi|bar|kpa) in\b"
)
_LESS: Final = re.compile(r"\b(out|down|off|cores?|less|from)\b")
_DRIVES: Final = frozenset(
    {"work", "stroke", "use", "run", "squeeze", "turn", "open", "hold"}
)  # a pump, until so many psi
_BY_PUMP: Final = re.compile(r"\b(pump|compressor|air gun)\b.*\b(until|to)\b")
_PUMP_ON: Final = re.compile(r"pump on\b")  # the pump screwed on, to read
_TYRE: Final = re.compile(r"\b(tyres?|tires?|tubes?)\b")


def roles(step: Step) -> frozenset[str]:
    """The roles that a step's words give it, beside those that it says itself."""
    return _of_words(f"{step.do} {step.detail}")


def does(step: Step, role: str) -> bool:
    """Whether a step does what may hurt, by its role or by its words. A proof is one by its role alone."""
    return step.has(role) or role in roles(step)


def a_damper(step: Step) -> bool:
    """Whether the words of a step say that it takes a damper out, its cap off, or what holds its gas."""
    return any(
        _DAMPER.search(sentence) is not None and bool({"opens", "ring-out"} & _of_words(sentence))
        for sentence in _SENTENCE.split(words.whole(f"{step.do} {step.detail}").casefold())
    )


def pumped_to(step: Step, each: Evidence) -> bool:
    """Whether an answer says that something was pumped, or to what: by its role, or where the words alone say that the step pumps."""
    return "pumps" in each.roles or each.dimension == "pressure" and not step.has("pumps") and "pumps" in roles(step)


@lru_cache(maxsize=512)
def _of_words(told: str) -> frozenset[str]:
    text = words.whole(told)  # a bracket before a verb hides it from nobody
    return frozenset(
        role
        for sentence in _SENTENCE.split(text)
        for n, part in enumerate([sentence, *_PART.split(sentence)])
        for role in _roles(part, begins=n < 2)
    )


def _roles(sentence: str, *, begins: bool) -> Iterator[str]:
    """Of a sentence, or a part of one; where it `begins` there, "it" is what the step before was about."""
    said = sentence.casefold()
    goes = _GOES.match(_HARMLESS.sub("", said))
    if goes is not None and (goes[2] is None or _AWAY.search(goes[2])):
        yield from _taken_off(_OF.split(goes[1])[0])
    first = _FIRST.match(said)
    if first is None:
        return
    verb = first[1]
    air = _PRESSURE.search(said) or verb in _FILLS and _CHAMBER.search(said)
    fills = verb in _FILLS | _PUTS and air and not _NO_AIR.search(said)
    pumps = verb in _PUMPS and not _PUMP_ON.match(said[first.start(1) :])
    raises = (
        verb in _RAISES and _PRESSURE.search(said) and _UP_TO.search(said[first.start(1) :]) and not _LESS.search(said)
    )
    drives = verb in _DRIVES and _PRESSURE.search(said) and _BY_PUMP.search(said)
    if (fills or pumps or raises or drives) and not _TYRE.search(said):
        yield "pumps"
    said = _HARMLESS.sub("", said)
    takes_off = (verb in _TAKE and _AWAY.search(said)) or _goes(verb, said[first.start(1) :])
    if verb in _OPEN or takes_off:
        found = list(_taken_off(said))
        if found:
            yield from found
        elif (begins and _IT.match(said)) or (_WHOLE.search(said) and _APART.search(said)):
            yield "opens"
        if _WHEEL.search(said) and verb in ("take", "pull", "slide", "remove", "release", "lift", "drop", "get"):
            yield "wheel-out"


def _taken_off(what: str) -> Iterator[str]:
    """What it is to take this off, where pressure may stand behind it."""
    if _RETAINED.search(what) and "damper" not in what:
        yield "ring-out"
    elif _BEHIND.search(what):
        yield "opens"


def _goes(verb: str, told: str) -> re.Match[str] | None:
    """Whether it goes though no word says "off" or "out": told from its verb on."""
    if verb in _TURNS and not _KNOB.search(told):
        return _BACK.search(told)
    if _CLOSES.search(told):
        return None
    return _LETS_GO.match(told) or (_DOWN.search(told) if verb in _TAKE or verb == "clear" else None)
