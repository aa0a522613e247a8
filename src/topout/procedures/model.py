"""A procedure as frozen data: groups of steps, each one sentence, the evidence it asks for, what a failure blocks.

Numbers and limits of the work stand in the procedure's file and nowhere else; they are kept here in SI. What a bound
or a sentence takes from the plan or from an earlier reading is a name of the planner's table (`Vocabulary`). What a
piece of evidence is for the rest of the tool, it says by its role (`roles.py`), never by its key.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import groupby
from typing import Final, Literal

from topout.procedures.roles import DAMPER, HOLD_JUDGED

EvidenceKind = Literal["tick", "choice", "number", "photo"]
EVIDENCE_KINDS: Final = ("tick", "choice", "number", "photo")
UNITS_SERVICED: Final = ("fork", "shock", "coil-fork", "coil-shock")  # a fork or shock alone stands on air
GROUP_LIMIT: Final = 9  # items a person gets through without losing the place (Degani & Wiener; WHO list: 5 to 9)
WORDS_LIMIT: Final = 20  # words in a sentence of a step
GLANCE_LETTERS: Final = 60  # two lines of the glance layer hold about 50; one long name may push a sentence past it

# The card's readings that a step may give: stage, and what is read.
CARD_STAGES: Final = ("as-found", "as-left")
CARD_READINGS: Final = (
    "pressure", "negative-pressure", "temperature", "spacers", "rebound", "compression", "sag", "exposed-length", "travel",
    "coil-rate", "preload", "stroke-sag", "length", "stroke",
    "rear-pressure", "rear-preload", "rear-rebound", "front-pressure", "front-preload", "front-rebound",  # of the other end
)  # fmt: skip

# What a step may depend on; answered by the planner (planner/variables.py). "not-known": no plan says it.
CONDITIONS: Final[dict[str, tuple[str, ...]]] = {
    "negative": ("self-equalising", "separate-valve", "coil", "none", "not-known"),
    "negative-valve": (
        "settled",
        "look",
    ),  # look: nobody knows whether the negative chamber has one, or the Book lost it
    "port": ("at-full-extension", "further-in", "not-known"),
    "spacers": ("changed", "unchanged"),
    "oil-on-piston": ("some", "none"),
    "travel": ("longer", "shorter", "same"),
    "wheel": ("changed", "unchanged"),
    "pressure": ("higher", "lower", "same"),
    "second": ("here", "none", "not-known"),  # a second positive chamber behind a floating piston
    "spring": ("out", "stays"),  # a coil: out for another rate or another travel
    "stroke": ("longer", "shorter", "same"),  # of a shock: reducers out or in
    "other": (
        "shock-pressure",
        "shock-preload",
        "fork-pressure",
        "fork-preload",
        "by-itself",
        "none",
    ),  # what the plan changes at the other end; by itself: something is opened for it
    "bike": ("here", "away"),  # away: the unit came by post, without it
    "unit": ("fork", "shock"),  # which end of the bike the job is about
    "damper": DAMPER,
}
UNIT: Final = "unit"
BIKE: Final = "bike"  # the condition behind `needs = "bike"`
# Conditions that no plan answers but a choice of the job, by its role of the same name; until then the first value holds.
ANSWERED: Final = ("damper",)

# The plan's warnings that a step may deal with. The planner stands above this floor; a test holds the two lists equal.
WARNINGS: Final = (
    "pressure-limit", "hydraulic-lock", "tyre-crown", "tyre-brace", "tyre-frame", "fork-length", "travel-limit",
    "spacer-limit", "lost-travel", "sag-range", "chart-open", "bb-change", "head-angle-change", "missing-input",
    "load-assumed", "load-implausible", "no-pressure", "charged-negative", "port-out-of-reach",
    "coil-bind", "no-coil", "nearly-locked",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Name:
    """One name of a sentence: dimension and unit shown ("count" for whole numbers), its words where no number is known.

    `needs` lists the roles of the readings that it is made of.
    """

    dimension: str
    unit: str
    says: str
    needs: tuple[str, ...] = ()
    decimals: int | None = None
    up: bool = False  # rounded up to two figures: what can hurt is never written smaller than it is
    round_figure: bool = False  # said in one figure of whichever unit: a step of the hand, 50 psi or 3 bar
    rounds: bool = False  # it has a number only at a step that is repeated by rounds
    own: bool = False  # defined by the procedure itself


@dataclass(frozen=True, slots=True)
class Function:
    """What a definition may ask for: the dimension it takes ("" any one), of how many, and the dimension it gives."""

    takes: str
    count: int | None
    gives: str


@dataclass(frozen=True, eq=False)
class Vocabulary:
    """The closed lists that a procedure is read against: names of its sentences, functions of its definitions."""

    names: Mapping[str, Name]
    functions: Mapping[str, Function]


@dataclass(frozen=True, slots=True)
class Bound:
    """One end of a band or its middle: a value in SI, or a name that is looked up when the step is shown."""

    value_si: float | None = None
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a reading may be off: a quantity in SI, a share of what is expected, or marks of the gauge.

    `gauge`: so many marks and the class of its span, for one reading against a true value. `drop`: marks alone, for
    a difference read twice on one gauge, which its class does not touch.
    """

    kind: Literal["quantity", "share", "gauge", "drop"]
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
    means: tuple[str, ...] = ()  # what each option is for the rest of the tool, where its role has such a list
    optional: bool = False
    delta: bool = False  # a difference may be below zero: a gauge's own zero
    card: tuple[str, str] | None = None  # the card's reading that this is: ("as-left", "pressure")
    roles: tuple[str, ...] = ()  # what it is for the rest of the tool: a list of roles.py
    service: str = ""  # the family's service data that is its target: a field of service.py

    @property
    def bounded(self) -> bool:
        """Whether an answer can fail."""
        if self.kind == "choice":
            return set(self.options) != set(self.passes)
        if HOLD_JUDGED in self.roles:
            return True
        return any((self.below, self.above, self.low, self.high))

    def meaning(self, choice: str) -> str:
        """What an answer is for the rest of the tool; empty where its role has no such list."""
        return dict(zip(self.options, self.means, strict=False)).get(choice, "")


@dataclass(frozen=True, slots=True)
class Wait:
    """This step may be signed only so many minutes after an earlier one was; other groups may go on meanwhile."""

    after: str
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
    shows: Literal["", "trapped-chamber", "second-chamber", "loaded-spring", "gas", "ring"] = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One action."""

    key: str
    do: str
    evidence: tuple[Evidence, ...] = ()
    detail: str = ""
    caution: str = ""
    why: str = ""
    good: str = ""
    hold: bool = False
    may_skip: bool = True  # takes "not done, because…" and "not known"; false where it keeps hands whole
    stop: Stop | None = None
    when: tuple[tuple[str, tuple[str, ...]], ...] = ()
    needs: Literal["", "bike"] = ""
    wait: Wait | None = None
    rounds: Rounds | None = None
    opens: Literal["", "new-tag"] = ""  # a page of the workshop that the step needs
    deals_with: tuple[str, ...] = ()  # codes of the plan's warnings that this step deals with

    @property
    def blocks(self) -> bool:
        """Whether a failed answer closes every later step behind a stop page."""
        return self.stop is not None

    @property
    def holds_back(self) -> bool:
        """Whether a failure is a danger until it passes: a hold point, or the end of a leak hold."""
        return self.hold or self.has(HOLD_JUDGED)

    def applies(self, conditions: Mapping[str, str]) -> bool:
        """Whether the step belongs to this job; every condition of the step must hold."""
        job = {key: CONDITIONS[key][0] for key in (BIKE, *ANSWERED)} | dict(conditions)
        return (not self.needs or job[self.needs] == "here") and all(job[key] in allowed for key, allowed in self.when)

    def has(self, role: str) -> bool:
        """Whether a piece of its evidence has this role."""
        return any(role in each.roles for each in self.evidence)

    def readings(self, answers: Mapping[str, float | None]) -> dict[str, float | None]:
        """What was read at it, by role: `answers` holds the values [SI] by evidence key."""
        return {role: answers[each.key] for each in self.evidence if each.key in answers for role in each.roles}


@dataclass(frozen=True, slots=True)
class Group:
    """Up to nine steps that belong together, with the line that ends them. `variant` names what switches it on.

    `meanwhile`: its steps may be signed while an earlier step still waits for its minutes.
    """

    key: str
    title: str
    complete: str
    steps: tuple[Step, ...]
    variant: str = ""
    meanwhile: bool = False


@dataclass(frozen=True, slots=True)
class Page:
    """What stands on one page: one hold point, or the steps of one group up to its next hold point."""

    group: Group
    steps: tuple[Step, ...]

    @property
    def hold(self) -> bool:
        """Whether it is a hold point, which stands alone."""
        return self.steps[0].hold


@dataclass(frozen=True, slots=True)
class Variant:
    """A way of working that is never the default: an owner switches it on for a job. `why` is its reason."""

    key: str
    title: str
    caution: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Definition:
    """A name of the procedure's own: a function of the vocabulary over bounds."""

    key: str
    function: str
    of: tuple[Bound, ...]
    dimension: str
    unit: str


@dataclass(frozen=True)
class Procedure:
    """A whole procedure, in the order of work."""

    key: str
    title: str
    version: int
    summary: str
    groups: tuple[Group, ...]
    variants: tuple[Variant, ...] = ()
    definitions: tuple[Definition, ...] = ()
    units: tuple[str, ...] = UNITS_SERVICED[:1]  # what it is for: "fork", "coil-fork"
    needs_plan: bool = True  # whether its steps say what only a plan knows
    names: Mapping[str, Name] = field(default_factory=dict, compare=False)  # the vocabulary's and its own

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

    def pages(self, conditions: Mapping[str, str], variants: frozenset[str] = frozenset()) -> tuple[Page, ...]:
        """The same steps as pages: a hold point stands alone, and the list of a group never runs across one."""
        pages: list[Page] = []
        for _, same in groupby(self.applying(conditions, variants), key=lambda step: self.group_of(step).key):
            run: list[Step] = []
            for step in same:
                if run and (step.hold or run[0].hold):
                    pages.append(Page(self.group_of(run[0]), tuple(run)))
                    run = []
                run.append(step)
            pages.append(Page(self.group_of(run[0]), tuple(run)))
        return tuple(pages)

    def left_out(self, conditions: Mapping[str, str], variants: frozenset[str] = frozenset()) -> tuple[Step, ...]:
        """What a unit without its bike leaves unchecked: the steps that it would have with its bike."""
        here = {step.key for step in self.applying(conditions, variants)}
        whole = self.applying({**conditions, BIKE: "here"}, variants)
        return tuple(step for step in whole if step.key not in here)

    def group_of(self, step: Step) -> Group:
        """The group that a step stands in."""
        return self._groups[step.key]

    @cached_property
    def _groups(self) -> dict[str, Group]:
        return {step.key: group for group in self.groups for step in group.steps}

    def answered(self, choices: Iterable[tuple[tuple[str, str], str]]) -> dict[str, str]:
        """What answers settle of what the job's steps depend on: `choices` by the keys of step and evidence, in the order given."""
        asked = {
            (step.key, each.key): (role, each)
            for step in self.steps()
            for each in step.evidence
            for role in each.roles
            if role in ANSWERED
        }
        found = ((asked[key], choice) for key, choice in (choices if asked else ()) if key in asked)
        return {role: meaning for (role, each), choice in found if (meaning := each.meaning(choice))}
