"""Plain words, measured on what a page shows (look.md B7 row 17): no word of a form-filling machine, a reading grade of at most 8.

Flesch–Kincaid grade: 0.39·words/sentence + 11.8·syllables/word − 15.59 (Kincaid, Fishburne, Rogers, Chissom 1975, Research
Branch Report 8-75). Syllables are counted by vowel groups, a silent e left out.
"""

from __future__ import annotations

import re

FORBIDDEN = re.compile(
    r"\b(invalid|please|oops|illegal|required|forbidden|mandatory|whoops)\b|enter a valid|field is", re.I
)
MOST_GRADE = 8.0
ENOUGH_WORDS = 40  # in sentences; fewer say nothing about how a page reads


def syllables(word: str) -> int:
    """Vowel groups; a final silent e is none, except in -le and -ee."""
    word = word.lower()
    count = len(re.findall(r"[aeiouy]+", word))
    if word.endswith("e") and not word.endswith(("le", "ee")) and count > 1:
        count -= 1
    return max(1, count)


def sentences(text: str) -> list[list[str]]:
    """Sentences as lists of words; what holds fewer than four words is a label, no sentence."""
    found = []
    for line in text.splitlines():
        for part in re.split(r"[.:;?!](?:\s|$)", line):
            words = re.findall(r"[A-Za-z’'-]*[A-Za-z][A-Za-z’'-]*", part)
            if len(words) >= 4:
                found.append(words)
    return found


def grade(found: list[list[str]]) -> float:
    """The grade of sentences."""
    words = [word for sentence in found for word in sentence]
    return 0.39 * len(words) / len(found) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59


def findings(text: str) -> list[tuple[str, object]]:
    """What is wrong with the words of a page."""
    found: list[tuple[str, object]] = [("a word of machines", word.group()) for word in FORBIDDEN.finditer(text)]
    said = sentences(text)
    if sum(map(len, said)) >= ENOUGH_WORDS and grade(said) > MOST_GRADE:
        found.append(("reading grade", round(grade(said), 1)))
    return found
