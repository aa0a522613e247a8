"""The keys that a force, a stance or a load would need and a file does not give, as a person finds them: "[fork.air] bore".

Which keys those are the bench file's own checks say; here they are data, not faults, since a plan goes on without.
"""

from __future__ import annotations

from typing import Final

from topout.bench_file import calls_for, checks, samples
from topout.bench_file.model import BenchFile, End
from topout.errors import Fault, FaultsFound

# What a mechanic calls what is missing: by the place of a key, else by its table's name and its own.
_WORDS: Final = {
    "[fork]": "the fork", "[fork.air]": "the spring, of air or a coil", "[fork.coil] rate": "the coil’s rate",
    "[fork.air] second_volume": "the volume of the second chamber", "[fork.air] second_pressure": "the pressure in the second chamber",
    "[frame]": "the frame’s chart",
    "[rider]": "the rider’s weight", "[bike]": "the bike’s weight", "[found]": "the sag found",
    "[fork] tyre_room": "the room from axle to underside of crown",
    "[fork.air] positive_volume": "the volume of the air chamber",
    "[fork.air] negative_volume": "the volume of the negative chamber",
    "[fork.air] pressure": "the pressure in the air chamber",
    "[fork.air] negative_pressure": "the pressure in the negative chamber",
    "[fork.air] bore": "the bore of the air tube", "[fork.air] shaft": "the diameter of the air shaft",
    "[fork.air] negative_coil": "the coil in place of the negative chamber",
    "[rider] mass": "the rider’s weight", "[rider] front_share": "the share of the weight on the front wheel",
    "[bike] mass": "the bike’s weight", "[bike] unsprung_front": "the weight of front wheel and lower legs",
    "[shock] sag": "the shock’s sag, in mm of its stroke", "[shock] leverage": "the frame’s leverage ratios",
    "[shock] stroke": "the shock’s stroke",
    "[change.air]": "the other chassis’ air spring",
    "[change] spacer_solid_volume": "the piston spacer’s own volume",
}  # fmt: skip
_OF: Final = {
    "fork": "of the fork", "fork.air": "of the air spring", "fork.air.negative_coil": "of the negative coil",
    "fork.coil": "of the coil", "change.coil": "of the new coil",
    "fork.lower_legs": "of the lower legs", "fork.damper": "of the damper", "fork.bumper": "of the bumper",
    "fork.top_out": "of the top-out bumper", "shock": "of the shock", "shock.air": "of the shock’s air can",
    "shock.coil": "of the shock’s coil", "shock.damper": "of the shock’s damper", "shock.bumper": "of the shock’s bumper", "frame": "of the frame’s chart", "rider": "of the rider",
    "bike": "of the bike", "found": "as found", "change": "asked for", "change.air": "of the new air spring",
    "front_wheel": "of the front wheel", "rear_wheel": "of the rear wheel",
}  # fmt: skip


def for_spring(bench: BenchFile) -> list[str]:
    """The keys that a force would need and the file does not give.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    return _lacking(bench, *checks.NEEDS["curve"])


def _in_front(bench: BenchFile) -> list[str]:
    """The same of a fork; none where the file is of a rear shock alone."""
    return [] if bench.fork is None and bench.shock is not None else for_spring(bench)


def for_stance(bench: BenchFile) -> list[str]:
    """The keys that the geometry would need and the file does not give.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    return _lacking(bench, *checks.NEEDS["geometry"])


def for_load(bench: BenchFile) -> list[str]:
    """The keys that a load would need and the file does not give; none where the sag found stands in for them.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    return _lacking(bench, *(("found",) if calls_for.found_in_front(bench) else ("rider", "bike")))


def for_spacer(bench: BenchFile) -> list[str]:
    """The spacer's own volume, where a change of travel by a spacer under the piston takes it off a negative chamber.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    change, fork = bench.change, bench.fork
    if change is None or change.by != "piston-spacer" or change.travel_m is None or fork is None or fork.air is None:
        return []
    needed = fork.air.negative in ("self-equalising", "separate-valve") and change.travel_m != fork.travel_m
    own = [fault.location for fault in checks.missing(bench, "change") if fault.key == "change.spacer_solid_volume"]
    return own if needed else []


def refuse_coil(bench: BenchFile, changed: BenchFile, end: End = "front") -> None:
    """Raise FaultsFound where a fork, or behind a shock, stands on a coil after its change, for answers that are a pressure.

    bench, changed [SI] (one) as read, and with its change done; end [-] (one) which is asked about → nothing. Raises FaultsFound where one stands on a coil.
    Source: bench-file.md.
    """
    coils = {"front": calls_for.on_coil, "rear": calls_for.on_coil_behind}
    if coils[end](changed):
        front = "[fork.coil]" if calls_for.on_coil(bench) else "[change.coil]"
        words = "a coil has no pressure to set. topout plan says which spring, or which preload, holds what."
        raise FaultsFound([Fault(front if end == "front" else "[shock.coil]", words)])


def for_room(bench: BenchFile) -> list[str]:
    """The key that the tyre's room at the crown would need and the file does not give; no fork is named elsewhere.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    return ["[fork] tyre_room"] if bench.fork is not None and bench.fork.tyre_room_m is None else []


def for_rear(bench: BenchFile) -> list[str]:
    """The keys without which nobody knows where a rear shock rests; see `checks.lacks_behind`.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    return [fault.location for fault in checks.lacks_behind(bench)]


def for_shock(bench: BenchFile) -> list[str]:
    """The keys that a shock's force would need and the file does not give; none without a shock.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    return for_spring_behind(bench) if bench.shock is not None else []


def for_spring_behind(bench: BenchFile) -> list[str]:
    """The same where the shock's force is asked for: without a shock it is the shock that lacks.

    bench [SI] (one) as read → [-] (any) keys. Raises nothing. Source: bench-file.md.
    """
    return _lacking(bench, *checks.needs_behind(bench))


def for_wheel(bench: BenchFile) -> list[str]:
    """The leverage, where a rear shock has none.

    bench [SI] (one) as read → [-] (1) at most. Raises nothing. Source: bench-file.md.
    """
    return [fault.location for fault in checks.unlevered(bench)]


def of_plan(bench: BenchFile, changed: BenchFile) -> tuple[list[str], list[str]]:
    """What a plan misses: the keys of the bike as it is, and those that only the bike after the change lacks.

    bench, changed [SI] (one) as read → [-] (2) lists of keys. Raises nothing. Source: bench-file.md.
    """
    first, later = (for_spring(b) + for_stance(b) + for_load(b) + for_room(b) + for_rear(b) for b in (bench, changed))
    spacer = for_spacer(bench)
    hidden = (
        {*first, "[fork.air] negative_volume"} if spacer else {*first}
    )  # not known after, since the spacer's is not
    return list(dict.fromkeys(first)), [key for key in dict.fromkeys([*spacer, *later]) if key not in hidden]


NEEDED: Final = "is needed for this"


def needed(place: str, purpose: str = NEEDED) -> Fault:
    """The finding that a key or a table is needed for an answer, with how it is written.

    place [-] (one) "[rider]" or "[rider] mass"; purpose [-] (one) what it is needed for → [-] (one). Raises nothing. Source: none
    needed, bookkeeping.
    """
    table, _, word = place.strip("[").partition("]")
    path = tuple(table.split("."))
    written = samples.sample((*path, word.strip())) if word else checks.sampled(path)
    return Fault(place, f"{purpose}, as in {written}.")


def place_of(word: str) -> str:
    """A key as a bench file's words have it, as a person finds it: "fork.air.bore" → "[fork.air] bore".

    word [-] (one) a key's words → [-] (one) a key. Raises nothing. Source: none needed, bookkeeping.
    """
    table, _, key = word.rpartition(".")
    return f"[{table}] {key}"


def words(place: str) -> str:
    """A missing key as a mechanic says it: "[fork.air] positive_volume" → the volume of the air chamber.

    place [-] (one) a key's → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
    """
    if place in _WORDS:
        return _WORDS[place]
    table, _, word = place.strip("[").partition("]")
    name = word.strip().replace("bb_", "bottom bracket ").replace("_", " ")
    return f"the {name} {_OF.get(table, 'of the ' + table)}" if name else _OF.get(table, table).replace("of ", "", 1)


def _lacking(bench: BenchFile, *paths: str) -> list[str]:
    return [fault.location for fault in checks.missing(bench, *paths)]
