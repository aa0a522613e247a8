"""The plan in sentences, fit to be read out over the telephone: one wording for page, terminal and frozen plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from topout import units
from topout.planner import missing, open_to
from topout.planner.known_to import MOST_SAG_M, Bounds
from topout.planner.rear_summary import RearSummary
from topout.planner.summary import Summary
from topout.units import NO_BREAK, show

_NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip

MOST_NAMED: Final = 4  # of what is missing, in the sentence; the closing line names all


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a sentence; `strong` ones are what is set, or that nothing may be."""

    words: str
    strong: bool = False


def number_word(count: int, zero: str = "no") -> str:
    """A small whole number as a word, a larger one in figures.

    count [1] (one) 0 and more; zero [-] (one) a word → [-] (one) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    if count == 0:
        return zero
    return _NUMBERS[count] if count < len(_NUMBERS) else units.digits(count, 0)


def spacers(count: int) -> str:
    """Volume spacers, counted: "no volume spacer", "two volume spacers".

    count [1] (one) 0 and more → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    return f"{number_word(count)} volume spacer{'' if count <= 1 else 's'}"


def pressure(gauge_pa: float, unit: str = "psi", second: bool = True) -> str:
    """A pressure to set: no needless decimal; the other system after it, unless `second` says no.

    gauge_pa [Pa gauge] (one) 0 and more; unit [-] (one) of pressure; second [-] (one) yes or no → [-] (one) words.
    Raises nothing. Source: none needed, bookkeeping.
    """
    return show(gauge_pa, "pressure", unit, second=second, trim=True)


def to_set(of: Summary, unit: str = "psi", second: bool = True) -> list[Piece]:
    """What to set; where nothing was computed or the build locks, that and why. `unit` is that of pressures.

    of [SI] (one) a summary; unit [-] (one) of pressure; second [-] (one) whether the other system stands beside →
    [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    if of.verdict == "locks":
        return [
            Piece("Don’t build this. ", True),
            Piece("A chamber would have no room left within the travel; nothing is set."),
        ]
    if of.verdict == "no-air":
        return [Piece("No spring is described; nothing is set.")]
    if of.coil is not None:
        rate = show(of.coil.rate_n_per_m, "rate", "N/mm", second=second, trim=True)
        wound = (
            f"{show(of.coil.preload_m, 'length', 'mm', trim=True)} of preload" if of.coil.preload_m else "no preload"
        )
        verb = "Fit" if of.coil.another else "Leave"
        return [Piece(f"{verb} the spring of "), Piece(rate, True), Piece(" with "), Piece(wound, True), Piece(".")]
    if of.pressure_pa is None or of.spacers is None:
        without = f" without {_named([each.words for each in of.lacking_spring])}" if of.lacking_spring else ""
        return [Piece(f"Nothing is set: the spring can’t be worked out{without}.")]
    pieces = [Piece("Leave it at " if of.stays else "Set "), Piece(pressure(of.pressure_pa, unit, second), True)]
    kept = open_to.sag_is_kept(of.bounds, of.pressure_pa, unit) if of.bounds is not None else ""
    pieces += [Piece(f" ({kept})")] if kept else []
    others = [(of.negative_pa, "negative"), (of.second_pa, "in the second chamber")]
    beside = [f"{pressure(gauge_pa, unit, second)} {words}" for gauge_pa, words in others if gauge_pa is not None]
    if beside:
        pieces.append(Piece(" main"))
    for count, words in enumerate(beside, 1):
        pieces += [Piece(" and " if count == len(beside) else ", "), Piece(words, True)]
    if of.limit_pa is not None:
        pieces += [Piece(f", above the maker’s limit of {pressure(of.limit_pa, unit, second)},", True)]
    pieces += [Piece(" with "), Piece(spacers(of.spacers), True)]
    if kept:
        return [*pieces, Piece(" for the same sag.")]
    same = open_to.for_same_sag(of.bounds, unit, limit_pa=of.keep_limit_pa) if of.bounds is not None else ""
    if of.stays and of.lacking_load:
        same = _not_without([each.words for each in of.lacking_load])
    return [*pieces, Piece("."), *([Piece(f" {same}")] if same else [])]


def _named(names: Sequence[str]) -> str:
    """What is missing, in a sentence."""
    return _and(list(names) if len(names) <= MOST_NAMED else [*names[: MOST_NAMED - 1], "more"])


def _not_without(names: Sequence[str]) -> str:
    """Why no pressure is said to keep the sag."""
    return f"The pressure for the same sag can’t be worked out without {_named(names)}."


def what_it_does(of: Summary) -> str:
    """Sag, bottom-out force and head angle against now; empty where nothing of it is known.

    of [SI] (one) a summary → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    told = [words for words in (_sag(of), _end(of), _head_angle(of)) if words]
    text = "; ".join(told)
    return text[:1].upper() + text[1:] + "." if text else ""


def whole(of: Summary, unit: str = "psi", second: bool = True) -> list[Piece]:
    """Both, as the answer to a plan.

    of [SI] (one) a summary; unit [-] (one) of pressure; second [-] (one) whether the other system stands beside →
    [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    effects = what_it_does(of)
    pieces = to_set(of, unit, second) + ([Piece(f" {effects}")] if effects else [])
    if of.rear is None:
        return pieces
    behind = rear_to_set(of.rear, unit, second, of.bounds) + [Piece(rear_does(of.rear))]
    return [*pieces, Piece(" "), *behind] if of.forked else behind


def behind_name(name: str, pieces: list[Piece]) -> list[Piece]:
    """A sentence behind the name of what it is about: “Fork: set 60 psi”, as “Shock: set 125 psi” is said.

    name [-] (one) a word; pieces [-] (any) of a sentence, one at least → [-] (any) pieces. Raises nothing. Source: none needed,
    bookkeeping.
    """
    first, *rest = pieces
    return [Piece(f"{name}: "), Piece(first.words[:1].lower() + first.words[1:], first.strong), *rest]


def rear_to_set(of: RearSummary, unit: str = "psi", second: bool = True, bounds: Bounds | None = None) -> list[Piece]:
    """What to set on the shock: pressure and spacers, or the coil and its preload; why, where nothing is set.

    of [SI] (one) a rear summary; unit [-] (one) of pressure; second [-] (one) whether the other system stands beside; bounds
    [SI] (one) what the draws say, or None → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    if of.verdict == "locks":
        return [Piece("Don’t build this shock. ", True), Piece("It would lock before the end of its stroke.")]
    if of.pressure_pa is not None and of.spacers is not None:
        pieces = [
            Piece("Shock: leave it at " if of.stays else "Shock: set "),
            Piece(pressure(of.pressure_pa, unit, second), True),
        ]
        if of.limit_pa is not None:
            pieces.append(Piece(f", above the maker’s limit of {pressure(of.limit_pa, unit, second)},", True))
        kept = "" if bounds is None else open_to.sag_is_kept(bounds, of.pressure_pa, unit, "rear-keep-sag")
        pieces += [*([Piece(f" ({kept})")] if kept else []), Piece(" with "), Piece(spacers(of.spacers), True)]
        pieces += _cut(of, " and ")
        if kept:
            return [*pieces, Piece(" for the same sag behind.")]
        same = "" if bounds is None else open_to.for_same_sag(bounds, unit, "rear-keep-sag", of.keep_limit_pa)
        if of.stays:  # whatever else lacks, its sag alone would tell it
            same = _not_without([missing.words("[shock] sag")])
        return [*pieces, Piece("."), *([Piece(f" {same}")] if same else [])]
    if of.rate_n_per_m is not None:
        pieces = [
            Piece("Shock: a coil of "),
            Piece(show(of.rate_n_per_m, "rate", "N/mm", second=second, trim=True), True),
        ]
        if of.preload_m:
            pieces.append(Piece(f", wound up {show(of.preload_m, 'length', 'mm', trim=True)}"))
        return [*pieces, *_cut(of, ", with "), Piece(".")]
    without = f" without {_named(of.lacking)}" if of.lacking else ""
    return [Piece(f"Nothing is set behind: the shock’s spring can’t be worked out{without}.")]


def _cut(of: RearSummary, join: str) -> list[Piece]:
    """Another stroke, where the plan has one: by reducers in it, or taken out of it."""
    step = of.stroke.value("change")
    if not step:
        return []
    how = " by stroke reducers" if step < 0 else ", the stroke reducers out"
    return [Piece(join), Piece(f"{of.stroke.trimmed('after')}{NO_BREAK}{of.stroke.unit} of stroke{how}", True)]


def rear_does(of: RearSummary) -> str:
    """Sag behind, in mm and per cent of the stroke and per cent of the wheel's travel, and the bottom-out force; else empty.

    of [SI] (one) a rear summary → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    told = []
    if of.stroke_used.after_si is not None:
        of_what = ((of.of_stroke, "the stroke"), (of.of_wheel, "the wheel’s travel"))
        shares = ", ".join(f"{each.says('after')} of {what}" for each, what in of_what if each.after_si is not None)
        gap = of.stroke_used.value("change")
        now = (
            ""
            if gap is None
            else ", as now"
            if not gap
            else f", {of.stroke_used.size()} {'more' if gap > 0 else 'less'} than now"
        )
        told.append(
            f"Sag behind {of.stroke_used.says('after')} of the shock’s stroke{f' ({shares})' if shares else ''}{now}"
        )
    if of.firmer_percent is not None:
        percent = of.firmer_percent
        firm = "as now" if not percent else f"{abs(percent)}{NO_BREAK}% {'higher' if percent > 0 else 'lower'}"
        told.append(f"{of.end_force.words} {firm}")
    text = "; ".join(told)
    return f" {text[:1].upper()}{text[1:]}." if told else ""


def said(pieces: list[Piece]) -> str:
    """A sentence as plain text.

    pieces [-] (any) of a sentence → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    return "".join(piece.words for piece in pieces)


def not_known(of: Summary, *, places: bool = False) -> str:
    """What is not known, in one line; with `places` where each stands in the bench file. Empty where nothing misses.

    of [SI] (one) a summary; places [-] (one) yes or no → [-] (one) words. Raises nothing. Source: none needed,
    bookkeeping.
    """
    if not of.lacking:
        return ""
    named = [f"{each.words} ({each.place})" if places else each.words for each in of.lacking]
    return f"Not known: {', '.join(named)}. What follows from it is left out."


def _sag(of: Summary) -> str:
    if of.sag.after_si is None:
        return _sag_moves(of)
    text = f"sag {of.sag.says('after')}"
    if of.ring.after_si is not None and of.ring.number("after") != of.sag.number("after"):
        text += f" (the O-ring shows {of.ring.says('after')})"
    gap = of.sag.value("change")
    if gap is None:
        return text
    return f"{text}, {of.sag.size()} {'more' if gap > 0 else 'less'} than now" if gap else f"{text}, as now"


def _sag_moves(of: Summary) -> str:
    """How much the sag changes, where that is known though the sag itself is not; nothing where it is kept."""
    moves = of.bounds.of.get(("difference", "sag", "front", "travel_m")) if of.bounds is not None else None
    if moves is None or moves.half_width > MOST_SAG_M:
        return ""
    system = units.System(metric=of.sag.unit == "mm")
    size = system.show(abs(moves.median), "length", "mm", decimals=0)
    if units.number_of(size) in ("0", "0.00"):
        return ""
    return f"sag {size} {'more' if moves.median > 0 else 'less'} than now"


def _end(of: Summary) -> str:
    percent = of.firmer_percent
    if percent is None:
        return ""
    if percent == 0:
        return "bottom-out force as now"
    return f"bottom-out force {abs(percent)}{NO_BREAK}% {'higher' if percent > 0 else 'lower'}"


def _head_angle(of: Summary) -> str:
    gap = of.head_angle.value("change")
    if gap is None:
        return ""
    where = "at sag" if of.at_sag else "unloaded"
    if gap == 0:
        return f"{where} the head angle as now"
    return f"{where} the head angle {of.head_angle.size()} {'steeper' if gap > 0 else 'slacker'}"


def _and(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
