"""The order of a procedure, for every job that it may become: readings before their use, proofs before what hurts.

Conditions and variants make many jobs of one file. A finding names a job in which it happens. Only the conditions that
the steps at hand depend on are tried against each other; the others change nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from topout.errors import Fault
from topout.procedures import opening, words
from topout.procedures.findings import shown
from topout.procedures.model import ANSWERED, BIKE, CONDITIONS, Evidence, Group, Procedure, Step
from topout.procedures.places import Places
from topout.procedures.roles import BETWEEN, FOLLOWS, NEEDED_WHERE, before

_VARIANT = "variant"


Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """A step with its rank in the file, what it depends on, and in which of all jobs it stands."""

    step: Step
    at: int
    meanwhile: bool
    keys: frozenset[str]
    jobs: Mask

    def does(self, role: str) -> bool:
        """Whether it does what may hurt, by its role or by its words."""
        return opening.does(self.step, role)


class _Jobs:
    """Every job that a file may become: the product of the conditions and variants that it names."""

    def __init__(self, procedure: Procedure) -> None:
        steps = [(group, step) for group in procedure.groups for step in group.steps]
        self.before = before(procedure.units)
        used = {key for group, step in steps for key in _keys(group, step)}
        used |= {NEEDED_WHERE[proof][0] for proofs in self.before.values() for proof in proofs if proof in NEEDED_WHERE}
        self.keys = sorted(used)
        self._values = [CONDITIONS.get(key, ("off", "on")) for key in self.keys]
        grid = np.meshgrid(*(np.arange(len(values)) for values in self._values), indexing="ij")
        self._rank = {key: axis.ravel() for key, axis in zip(self.keys, grid, strict=True)}
        self.count = int(np.prod([len(values) for values in self._values], dtype=int))
        self.placed = [
            _Placed(step, at, group.meanwhile, _keys(group, step), self._mask(group, step))
            for at, (group, step) in enumerate(steps)
        ]

    def _mask(self, group: Group, step: Step) -> Mask:
        found = np.ones(self.count, bool)
        wanted = [*step.when, *([(BIKE, ("here",))] if step.needs else [])]
        wanted += [(_VARIANT + group.variant, ("on",))] if group.variant else []
        for key, allowed in wanted:
            values = self._values[self.keys.index(key)]
            found &= np.isin(self._rank[key], [values.index(each) for each in allowed])
        return found

    def where(self, proof: str) -> Mask:
        """In which of all jobs a proof is needed."""
        if proof not in NEEDED_WHERE:
            return np.ones(self.count, bool)
        key, allowed = NEEDED_WHERE[proof]
        return np.isin(self._rank[key], [CONDITIONS[key].index(each) for each in allowed])

    def some(self, left: Mask, steps: Iterable[_Placed], more: frozenset[str]) -> dict[str, str] | None:
        """One of these jobs, told by what the steps depend on, and `more`; None where there is none."""
        first = np.flatnonzero(left)
        if first.size == 0:
            return None
        keys = more.union(*(each.keys for each in steps))
        at = first[0]
        return {
            key: values[self._rank[key][at]] for key, values in zip(self.keys, self._values, strict=True) if key in keys
        }

    def without(self, here: _Placed, others: list[_Placed], *also: _Placed, proof: str = "") -> dict[str, str] | None:
        """A job that has the step (and what else is given) and none of the others; None where there is none.

        With a `proof`, only where that proof is needed.
        """
        left = here.jobs & self.where(proof)
        for each in also:
            left &= each.jobs
        for each in others:
            left &= ~each.jobs
        more = frozenset({NEEDED_WHERE[proof][0]} if proof in NEEDED_WHERE else ())
        return self.some(left, [here, *others, *also], more)


def _keys(group: Group, step: Step) -> frozenset[str]:
    found = {key for key, _ in step.when} | ({BIKE} if step.needs else set())
    return frozenset(found | ({_VARIANT + group.variant} if group.variant else set()))


def faults(procedure: Procedure, places: Places, stands: Mapping[str, str]) -> Iterator[Fault]:
    """Every finding about the order."""
    jobs = _Jobs(procedure)
    yield from _never(jobs, places, stands)
    yield from _uses(procedure, jobs, places, stands)
    yield from _answers(jobs, places, stands)
    yield from _waits(jobs, places, stands)
    yield from _proofs(jobs, places, stands)


def _never(jobs: _Jobs, places: Places, stands: Mapping[str, str]) -> Iterator[Fault]:
    """A step that no job has would be read by nobody and signed by nobody."""
    for here in jobs.placed:
        if not here.jobs.any():
            place = stands[here.step.key]
            message = "no job has this step: its when never holds, with what is asked where it is included."
            yield Fault(f"{place}, when", message, line=places.line(place, "when"), key="when")


def _said(job: Mapping[str, str]) -> str:
    """`, where negative is coil`, or nothing where it is so in every job."""
    parts = [
        f"{key.removeprefix(_VARIANT)} is {value}" for key, value in job.items()
    ]  # fmt: skip
    return f", where {', '.join(parts)}" if parts else ""


@dataclass(frozen=True, slots=True)
class _Use:
    """A name at a place of a step: `rank` is that of the evidence whose bound it is, -1 for a text read before."""

    key: str
    name: str
    rank: int
    bound: bool


def _names(step: Step) -> Iterator[_Use]:
    for key in ("do", "detail", "caution", "why"):
        for match in words.NAME_IN_TEXT.finditer(getattr(step, key)):
            yield _Use(key, match.group(1), -1, bound=False)
    for rank, each in enumerate(step.evidence):
        for bound in (each.expect, each.low, each.high):
            if bound is not None and bound.name is not None:
                yield _Use("evidence", bound.name, rank, bound=True)
        for text in (each.label, *each.options):
            for match in words.NAME_IN_TEXT.finditer(text):
                yield _Use("evidence", match.group(1), -1, bound=False)
    for match in words.NAME_IN_TEXT.finditer(step.good):
        yield _Use("good", match.group(1), len(step.evidence), bound=False)


def _needs(procedure: Procedure, name: str) -> Sequence[str]:
    own = next((each for each in procedure.definitions if each.key == name), None)
    if own is None:
        return procedure.names[name].needs if name in procedure.names else ()
    return [need for bound in own.of if bound.name for need in _needs(procedure, bound.name)]


def _uses(procedure: Procedure, jobs: _Jobs, places: Places, stands: Mapping[str, str]) -> Iterator[Fault]:
    """A value is used only where an earlier step of the same job reads it."""
    for here in jobs.placed:
        step, place = here.step, stands[here.step.key]
        for use in _names(step):
            name = procedure.names.get(use.name)
            if name is not None and name.rounds and step.rounds is None:
                message = f"{{{use.name}}} has a number only at a step with rounds."
                yield Fault(f"{place}, {use.key}", message, line=places.line(place, use.key), key=use.key)
            for role in _needs(procedure, use.name):
                wrong = _unread(jobs, here, use, role)
                if wrong is not None:
                    message = f"{{{use.name}}} needs the reading {role}, {wrong}"
                    yield Fault(f"{place}, {use.key}", message, line=places.line(place, use.key), key=use.key)


def _unread(jobs: _Jobs, here: _Placed, use: _Use, role: str) -> str | None:
    """What is wrong with a use of a reading: not read before in some job, or one that may be missing when it is judged."""
    if any(role in each.roles for each in here.step.evidence[: max(use.rank, 0)]):
        return None
    giving = [each for each in jobs.placed if each.at < here.at and each.step.has(role)]
    job = jobs.without(here, giving)
    if job is not None:
        return f"which no step before this one asks for{_said(job)}. Read it earlier, or give this step another when."
    if use.bound and not here.step.may_skip and not here.step.evidence[use.rank].optional:
        sure = [each for each in giving if not each.step.may_skip and not _left_out(each.step, role)]
        if jobs.without(here, sure) is not None:
            return (
                "which may be left out; this step takes no “not done”, so it could never be signed. "
                "Make what is compared optional, or its reading one that may not be left out."
            )
    return None


def _answers(jobs: _Jobs, places: Places, stands: Mapping[str, str]) -> Iterator[Fault]:
    """What a step hangs on by an answer is asked for before it, where nobody can leave it out."""
    for here in jobs.placed:
        for key in (key for key, _ in here.step.when if key in ANSWERED):
            sure = [
                each
                for each in jobs.placed
                if each.at < here.at and each.step.has(key) and not each.step.may_skip and not _left_out(each.step, key)
            ]
            job = jobs.without(here, sure)
            if job is not None:
                place, rest = stands[here.step.key], {name: value for name, value in job.items() if name != key}
                message = (
                    f"{key} is settled by the choice with the role {key}, which no step before this one asks for{_said(rest)}. "
                    "Put it before, at a hold point with may_skip = false."
                )
                yield Fault(f"{place}, when", message, line=places.line(place, "when"), key="when")


def _left_out(step: Step, role: str) -> bool:
    asked: list[Evidence] = [each for each in step.evidence if role in each.roles]
    return all(each.optional for each in asked)


def _waits(jobs: _Jobs, places: Places, stands: Mapping[str, str]) -> Iterator[Fault]:
    """A wait points back at a step of the same job; what runs beside it neither pumps nor opens."""
    for here in jobs.placed:
        place = stands[here.step.key]
        if here.meanwhile and any(here.does(role) for role in ("pumps", "opens", "ring-out")):
            message = "a group that goes on meanwhile neither pumps nor opens: the wait before it would measure that."
            yield Fault(place, message, line=places.line(place))
        if here.step.wait is None:
            continue
        from_ = [each for each in jobs.placed if each.at < here.at and each.step.key == here.step.wait.after]
        job = jobs.without(here, from_)
        if job is not None:
            message = f"a step that stands before this one is expected{_said(job) if from_ else ''}."
            at = places.line(place, "wait")
            yield Fault(f"{place}, wait", message, f'"{here.step.wait.after}"', at, "wait")


def _proofs(jobs: _Jobs, places: Places, stands: Mapping[str, str]) -> Iterator[Fault]:
    """Nothing is opened, pumped or handed over before what proves that it may be, in any job."""

    def fault(here: _Placed, role: str, message: str) -> Fault:
        place = stands[here.step.key]
        if here.step.has(role):
            return Fault(f"{place}, evidence", message, line=places.line(place, "evidence"), key="evidence")
        more = " Its words say that it does this: put the proof in, or say in other words what is done."
        return Fault(f"{place}, do", message + more, shown(here.step.do), places.line(place, "do"), "do")

    for here in jobs.placed:
        for role, proofs in jobs.before.items():
            for proof in proofs if here.does(role) else ():
                earlier = [each for each in jobs.placed if each.at < here.at and each.step.has(proof)]
                job = jobs.without(here, earlier, proof=proof)
                if job is not None:
                    yield fault(here, role, f"{role} needs the proof {proof} before it{_said(job)}.")
        for role, proofs in FOLLOWS.items():
            for proof in proofs if here.does(role) else ():
                job = jobs.without(here, [each for each in jobs.placed if each.at > here.at and each.step.has(proof)])
                if job is not None:
                    yield fault(here, role, f"{role} needs the proof {proof} after it{_said(job)}.")
        for (role, later), proofs in BETWEEN.items():
            outs = [each for each in jobs.placed if each.at < here.at and each.does(role)]
            for out in outs if here.does(later) else ():
                for proof in proofs:
                    between = [each for each in jobs.placed if out.at < each.at < here.at and each.step.has(proof)]
                    job = jobs.without(here, between, out)
                    if job is not None:
                        message = f"{later} after {role} needs the proof {proof} between them{_said(job)}."
                        yield fault(here, later, message)
