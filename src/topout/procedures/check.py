"""What the words and the order of a procedure must be like; runs once its tables could be read.

One action a step, at most twenty words, value and limits given, short groups that end with a line saying so: audit
sheet after UK HSG 48; Degani & Wiener 1990, 1993; WHO surgical list (see docs/procedures.md). The word lists are ours.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Final

from topout.errors import Fault
from topout.procedures import order, words
from topout.procedures.findings import shown, unseen
from topout.procedures.model import GLANCE_LETTERS, GROUP_LIMIT, WORDS_LIMIT, Group, Name, Procedure, Step
from topout.procedures.places import Places
from topout.procedures.roles import HOLD_JUDGED, KEEPS_HANDS

# The first word of a step: what a hand or an eye does. An author who needs another verb adds it here.
VERBS: Final = frozenset(
    "aim bag bleed bottom check clamp clear compare confirm count draw drain fill find fit grease hold inspect lay let lift "
    "keep listen look mark measure note open photograph press pull pump push put read release rock screw set sign slide soak "
    "squeeze stand stroke take tag tap tell thread tighten tug turn unscrew wait wash wipe write".split()
)
FORBIDDEN: Final = re.compile(r"\b(invalid|please|oops|illegal|required field|field is required)\b", re.IGNORECASE)
_TWO_ACTIONS: Final = re.compile(r"\b(and|then|before you|after you)\b|;|[.!?]\s+\S", re.IGNORECASE)
_LISTED_VERB: Final = re.compile(r",\s+(" + "|".join(sorted(VERBS)) + r")\b")
_SENTENCE: Final = re.compile(r"(?<=[.!?])\s+")
# Ours; no text that comes with the tool is half as long.
TITLE_LETTERS: Final = 60
TEXT_LETTERS: Final = 400
WORD_LETTERS: Final = 40


def of_words(procedure: Procedure, places: Places, stands: Mapping[str, str]) -> list[Fault]:
    """Every finding about words: each text by itself, so that a file which is not whole yet has them too.

    `stands` says where each step stands; a step without a key has none.
    """
    found: list[Fault] = []
    for number, group in enumerate(procedure.groups, 1):
        found.extend(_group(f"group {number}", group, places))
    for step in procedure.steps():
        if step.do and step.key in stands:
            found.extend(_sentence(stands[step.key], step, places))
    found.extend(_texts(procedure, places, stands))
    return found


def of_whole(procedure: Procedure, places: Places, stands: Mapping[str, str]) -> list[Fault]:
    """Every finding about what belongs together: evidence and holds, readings, the order."""
    found: list[Fault] = []
    for step in procedure.steps():
        found.extend(_rules(stands[step.key], step, places))
        found.extend(_leak_hold(stands[step.key], step, procedure, places))
    found.extend(order.faults(procedure, places, stands))
    return found


def _group(place: str, group: Group, places: Places) -> Iterator[Fault]:
    rows = sum(not step.hold for step in group.steps)  # a hold point stands alone, on a page of its own
    if rows > GROUP_LIMIT:
        message = f"{rows} steps beside its hold points; at most {GROUP_LIMIT} stay in mind. Split the group."
        yield Fault(place, message, line=places.line(place))
    if group.complete and not re.search(r"\bcomplete\.$", group.complete):
        message = 'a line that ends the group is expected, as in "Relieved: complete."'
        yield Fault(f"{place}, complete", message, f'"{group.complete}"', places.line(place, "complete"), "complete")


def _sentence(place: str, step: Step, places: Places) -> Iterator[Fault]:
    """The step's one sentence."""

    def fault(message: str) -> Fault:
        return Fault(f"{place}, do", message, shown(step.do), places.line(place, "do"), "do")

    text = words.whole(step.do)
    first = re.match(r"[A-Za-z]+", text)
    if first is None or first.group().lower() not in VERBS or not first.group()[0].isupper():
        yield fault("a verb for the hand or the eye is expected first, as in Measure, Turn, Press.")
    if not text.endswith("."):
        yield fault("a full stop is expected at the end.")
    if _TWO_ACTIONS.search(text) or _LISTED_VERB.search(text):
        yield fault("two actions; one step is one action. Make two steps of it.")
    count = len(words.NAME_IN_TEXT.sub("62 psi", text).split())
    if count > WORDS_LIMIT:
        yield fault(f"{count} words; at most {WORDS_LIMIT} are read at a glance.")
    letters = len(words.NAME_IN_TEXT.sub("62.5 psi", text))
    if letters > GLANCE_LETTERS:
        yield fault(f"{letters} letters; two lines hold {GLANCE_LETTERS}. Move the rest to detail.")


def _rules(place: str, step: Step, places: Places) -> Iterator[Fault]:
    """What a step must have to be what it says it is."""

    def fault(key: str, message: str, value: str = "") -> Fault:
        return Fault(f"{place}, {key}", message, value, places.line(place, key), key)

    asked = [each for each in step.evidence if not each.optional]
    proofs = [role for role in KEEPS_HANDS if step.has(role)]
    if not step.may_skip and not step.hold:
        yield fault("may_skip", "only a hold point takes no “not done, because…”; add hold = true.")
    if step.may_skip and step.stop is not None:
        yield fault("stop", "what has a stop page can’t be passed over; add may_skip = false.")
    if proofs and step.may_skip:
        yield fault(
            "evidence", f"{proofs[0]} keeps hands whole; a hold point with may_skip = false is expected.", proofs[0]
        )
    if proofs and all(each.optional or not each.bounded for each in step.evidence if set(each.roles) & set(proofs)):
        yield fault("evidence", "a proof that can fail and may not be left out is expected.", proofs[0])
    if step.hold and not asked:
        yield fault("hold", "a hold point asks for evidence that may not be left out; it has none.")
    if step.stop is not None:
        if not step.hold:
            yield fault("stop", "only a hold point closes what comes after it; add hold = true.")
        if not any(each.bounded and not each.optional for each in step.evidence):
            yield fault("stop", "a choice or a number that can fail is expected in its evidence.")
    if step.rounds is not None and [each.kind for each in step.evidence] != ["number"]:
        yield fault("rounds", "a step with rounds asks for one number: the reading after each stroke.")


def _leak_hold(place: str, step: Step, procedure: Procedure, places: Places) -> Iterator[Fault]:
    """What a step by which a leak hold is judged must have: without a first reading and temperatures nothing is told."""
    judged = [each for each in step.evidence if HOLD_JUDGED in each.roles]
    if not judged:
        return

    def fault(message: str, value: str = HOLD_JUDGED) -> Fault:
        return Fault(f"{place}, evidence", message, value, places.line(place, "evidence"), "evidence")

    def asks(of: Step | None, role: str) -> bool:
        return of is not None and any(role in each.roles and not each.optional for each in of.evidence)

    if len(judged) > 1 or judged[0].optional:
        yield fault("one pressure that may not be left out is expected with this role.")
    if any((judged[0].below, judged[0].above, judged[0].low, judged[0].high)):
        yield fault("the hold is judged by its readings; leave out within, below, above, low and high.")
    if step.rounds is not None:
        yield fault("it is read once more and once more by itself; leave out rounds.")
    if not asks(step, "hold-temperature"):
        yield fault("the temperature with it is expected beside it, with the role hold-temperature.")
    start = next((each for each in procedure.steps() if step.wait is not None and each.key == step.wait.after), None)
    if not all(asks(start, role) for role in ("hold-start-pressure", "hold-start-temperature")):
        yield fault(
            "wait = { after = …, minutes = … } is expected, after the step with hold-start-pressure and hold-start-temperature."
        )


def _texts(procedure: Procedure, places: Places, stands: Mapping[str, str]) -> Iterator[Fault]:
    """Every other text: short sentences, plain words, known names."""
    for place, key, text, evidence in _all_texts(procedure, stands):
        at = ", ".join(part for part in (place, f"evidence {evidence}" if evidence else "", key) if part)
        for message in _wrong(key, text, procedure.names):
            # A line is looked for only where something is wrong: it takes a scan of the file.
            yield Fault(at, message, shown(text), places.line(place, key, evidence), key)


def _wrong(key: str, written: str, known: Mapping[str, Name]) -> Iterator[str]:
    for piece in words.ONLY_IF_KNOWN.findall(written):
        hurts = next((each for each in words.NAME_IN_TEXT.findall(piece) if each in known and known[each].up), None)
        if hurts is not None:
            yield f"{{{hurts}}} can hurt: it is said where nobody knows how much, too. Take the square brackets off."
    text = words.whole(written)
    odd = None if text.isprintable() else next((letter for letter in text if unseen(letter)), None)
    if odd is not None:
        yield f"U+{ord(odd):04X} is a sign that nobody sees; letters, figures and signs of the keyboard are expected."
    most = TITLE_LETTERS if key == "title" else TEXT_LETTERS
    if len(text) > most:
        yield f"{len(text)} letters; at most {most} are read here."
    if any(len(word) > WORD_LETTERS for word in words.NAME_IN_TEXT.sub("62 psi", text).split()):
        yield f"a word of more than {WORD_LETTERS} letters; no line of a phone holds it."
    for match in words.NAME_IN_TEXT.finditer(text):
        if match.group(1) not in known:
            near = get_close_matches(match.group(1), list(known), 1)
            hint = f" Is it {near[0]}?" if near else ""
            yield f"no such name as {{{match.group(1)}}}; docs/procedures.md lists them.{hint}"
    lone = re.search(r"<[a-z-]+>", text)
    if lone:
        yield f"{lone.group()} is no parameter of this group; parameters lists them."
    if re.search(r"[{}]", words.NAME_IN_TEXT.sub("", text)):
        yield "a lone bracket; a name stands between { and }."
    bad = FORBIDDEN.search(text)
    if bad:
        yield f'"{bad.group()}" is not a word of the bench; say what is meant.'
    for sentence in _SENTENCE.split(text):
        count = len(words.NAME_IN_TEXT.sub("62 psi", sentence).split())
        if count > WORDS_LIMIT and key != "do":
            yield f"a sentence of {count} words; at most {WORDS_LIMIT}."


def _all_texts(procedure: Procedure, stands: Mapping[str, str]) -> Iterator[tuple[str, str, str, str]]:
    """(place, key, text, evidence key) of everything that people read."""
    yield "", "title", procedure.title, ""
    yield "", "summary", procedure.summary, ""
    for number, variant in enumerate(procedure.variants, 1):
        yield f"variant {number}", "title", variant.title, ""
        yield f"variant {number}", "caution", variant.caution, ""
        if variant.why:
            yield f"variant {number}", "why", variant.why, ""
    for number, group in enumerate(procedure.groups, 1):
        yield f"group {number}", "title", group.title, ""
        yield f"group {number}", "complete", group.complete, ""
    for step in procedure.steps():
        if step.key not in stands:
            continue
        place = stands[step.key]
        for key in ("do", "detail", "caution", "why", "good"):
            if text := getattr(step, key):
                yield place, key, text, ""
        if step.stop is not None:
            for text in (step.stop.title, step.stop.text, *step.stop.ways):
                yield place, "stop", text, ""
        for each in step.evidence:
            for text in (each.label, *each.options):
                yield place, "label", text, each.key
