"""A sentence with quantities in it that a record keeps with its figures, so that whoever reads it reads their own units."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from topout.units import BENCH, NO_BREAK, System


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity in a sentence, and how it is said there."""

    value_si: float
    dimension: str
    unit: str
    second: bool = False
    trim: bool = False
    bare: bool = False  # the number alone: the first of "3 to 4 mm"

    def said(self, system: System = BENCH) -> str:
        """With its unit, or the one that the system has in its place.

        system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        text = system.show(self.value_si, self.dimension, self.unit, second=self.second, trim=self.trim)
        return text.partition(NO_BREAK)[0] if self.bare else text


@dataclass(frozen=True, slots=True)
class Phrase:
    """A sentence with quantities in it, `{}` in the words for each, that can be said in either system."""

    words: str
    quantities: tuple[Quantity, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As a record keeps it: words and figures apart, so that whoever reads it reads their own units.

        nothing → [SI] (one) as a record. Raises nothing. Source: none needed, bookkeeping.
        """
        return {"words": self.words, "quantities": [asdict(each) for each in self.quantities]}

    @classmethod
    def of_json(cls, kept: dict[str, Any]) -> Phrase:
        """What `as_json` gave.

        kept [SI] (one) as a record → [SI] (one). Raises nothing. Source: none needed, bookkeeping.
        """
        return cls(kept["words"], tuple(Quantity(**each) for each in kept["quantities"]))

    def said(self, system: System = BENCH) -> str:
        """The sentence.

        system [-] (one) the units to say it in → [-] (one) words. Raises nothing. Source: none needed, bookkeeping.
        """
        return self.words.format(*(each.said(system) for each in self.quantities))
