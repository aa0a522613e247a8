"""A procedure as frozen data: groups of steps, each one sentence, the evidence it asks for, what a failure blocks.

Numbers and limits of the work stand in the procedure's file and nowhere else; they are kept here in SI. What a bound
or a sentence takes from the plan or from an earlier reading is a name of the closed list in `words.py`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal

EvidenceKind = Literal["tick", "choice", "number", "photo"]
EVIDENCE_KINDS: Final = ("tick", "choice", "number", "photo")
GROUP_LIMIT: Final = 9  # items a person gets through without losing the place (Degani & Wiener; WHO list: 5 to 9)
WORDS_LIMIT: Final = 20  # words in a sentence of a step
GLANCE_LETTERS: Final = 60  # two lines of the glance layer hold about 50; one long name may push a sentence past it

# The card's readings that a step may give: stage, and what is read.
CARD_STAGES: Final = ("as-found", "as-left")
CARD_READINGS: Final = (
    "pressure", "negative-pressure", "temperature", "spacers", "rebound", "compression", "sag", "exposed-length", "travel",
)  # fmt: skip

# What a step may depend on; answered from the plan's bench file by words.conditions().
CONDITIONS: Final[dict[str, tuple[str, ...]]] = {
    "negative": ("self-equalising", "separate-valve", "coil", "none"),
    "port": ("at-full-extension", "further-in"),
    "spacers": ("changed", "unchanged"),
    "oil-on-piston": ("some", "none"),
    "travel": ("longer", "shorter", "same"),
    "wheel": ("changed", "unchanged"),
}

# The plan's warnings that a step may deal with. The planner stands above this floor; a test holds the two lists equal.
WARNINGS: Final = (
    "pressure-limit", "hydraulic-lock", "tyre-crown", "tyre-brace", "tyre-frame", "fork-length", "travel-limit",
    "spacer-limit", "lost-travel", "sag-range", "chart-open", "bb-change", "head-angle-change", "missing-input",
    "load-assumed", "load-implausible", "no-pressure", "charged-negative", "port-out-of-reach",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bound:
    """One end of a band or its middle: a value in SI, or a name that is looked up when the step is shown."""

    value_si: float | None = None
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a reading may be off: a quantity in SI, a share of what is expected, or what the gauge can tell.

    `gauge` counts marks of the gauge; its class of the span is added to them.
    """

    kind: Literal["quantity", "share", "gauge"]
    value: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing a step asks for. `unit` is what a bare number counts as; `dimension` is "count" for whole numbers."""

    key: str
    kind: EvidenceKind
    label: str
    dimension: str = ""
    unit: str = ""
    expect: Bound | None = None
    below: Tolerance | None = None
    above: Tolerance | None = None
    low: Bound | None = None
    high: Bound | None = None
    options: tuple[str, ...] = ()
    passes: tuple[str, ...] = ()
    optional: bool = False
    delta: bool = False  # a difference may be below zero: a gauge's own zero
    card: tuple[str, str] | None = None  # the card's reading that this is: ("as-left", "pressure")

    @property
    def bounded(self) -> bool:
        """Whether an answer can fail."""
        if self.kind == "choice":
            return set(self.options) != set(self.passes)
        return any((self.below, self.above, self.low, self.high))


@dataclass(frozen=True, slots=True)
class Wait:
    """This step may be signed only so many minutes after an earlier one was."""

    step: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Rounds:
    """The step is repeated for every round of the filling schedule, with stops this far apart (Pa, gauge).

    The rounds end when a stroke costs less than so many marks of the gauge.
    """

    stop_every_pa: float
    gauge_marks: float


@dataclass(frozen=True, slots=True)
class Stop:
    """What the page says where a failed point blocks every later step."""

    title: str
    text: str
    ways: tuple[str, ...]
    shows: Literal["", "trapped-chamber", "ring"] = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One action on one screen."""

    key: str
    do: str
    evidence: tuple[Evidence, ...] = ()
    detail: str = ""
    caution: str = ""
    why: str = ""
    good: str = ""
    hold: bool = False
    stop: Stop | None = None
    when: tuple[tuple[str, tuple[str, ...]], ...] = ()
    after: Wait | None = None
    rounds: Rounds | None = None
    opens: Literal["", "new-tag"] = ""  # a page of the workshop that the step needs
    deals_with: tuple[str, ...] = ()  # codes of the plan's warnings that this step deals with
    line: int = 0

    @property
    def blocks(self) -> bool:
        """Whether a failed answer closes every later step behind a stop page."""
        return self.stop is not None

    def applies(self, conditions: Mapping[str, str]) -> bool:
        """Whether the step belongs to this job; every condition of the step must hold."""
        return all(conditions[key] in allowed for key, allowed in self.when)


@dataclass(frozen=True, slots=True)
class Group:
    """Up to nine steps that belong together, with the line that ends them. `variant` names what switches it on."""

    key: str
    title: str
    complete: str
    steps: tuple[Step, ...]
    variant: str = ""


@dataclass(frozen=True, slots=True)
class Variant:
    """A way of working that is never the default: an owner switches it on for a job."""

    key: str
    title: str
    caution: str


@dataclass(frozen=True, slots=True)
class Definition:
    """A name of the procedure's own: a function of the closed list in `words.py` over bounds."""

    key: str
    function: str
    of: tuple[Bound, ...]
    dimension: str
    unit: str


@dataclass(frozen=True, slots=True)
class Procedure:
    """A whole procedure, in the order of work."""

    key: str
    title: str
    version: int
    summary: str
    groups: tuple[Group, ...]
    variants: tuple[Variant, ...] = ()
    definitions: tuple[Definition, ...] = ()

    def steps(self) -> Iterator[Step]:
        """Every step of the file in order, whether it applies to a job or not."""
        for group in self.groups:
            yield from group.steps

    def applying(self, conditions: Mapping[str, str], variants: frozenset[str] = frozenset()) -> tuple[Step, ...]:
        """The steps of one job, in order: conditions met, variants only where switched on."""
        return tuple(
            step
            for group in self.groups
            if not group.variant or group.variant in variants
            for step in group.steps
            if step.applies(conditions)
        )

    def group_of(self, step: Step) -> Group:
        """The group that a step stands in."""
        return next(group for group in self.groups if any(each.key == step.key for each in group.steps))
