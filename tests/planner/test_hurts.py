"""What can hurt on its high side: the 97.5 % point against plain draws of our own, never less than what was typed, and said as what it is."""

from __future__ import annotations

import re
from collections.abc import Collection
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.fork import bench
from topout.bench_file.model import BenchFile
from topout.bench_file.read import read_text
from topout.cli import plan_table
from topout.errors import FaultsFound
from topout.planner import known, summary
from topout.planner.hurts import shut_in
from topout.planner.plan import plan
from topout.planner.plan_numbers import PlanNumbers, dangers, filled
from topout.units import BENCH, PSI_PA

ATM = 101325.0
EXAMPLES = Path(__file__).parents[2] / "examples"
MANY = 400_000
OUTSIDE = 'length = "546 mm"\noffset = "44 mm"\ntravel = "150 mm"\nstanchion = "38 mm"'
PRESSURE, TRAVEL_M = 'pressure = "70 psi"', 0.150
TYPED = {"bore": '"34 mm"', "shaft": '"10 mm"', "positive_volume": '"240 ml"', "negative_volume": '"50 ml"', "port_position": '"0 mm"'}  # fmt: skip


def _joules(gauge_pa: Any, room_m3: Any) -> Any:
    """Isothermal expansion to ambient, written out once more."""
    p = gauge_pa + ATM
    return p * room_m3 * np.log(p / ATM) - gauge_pa * room_m3


def plain(left_out: set[str], off_m: float = 0.0) -> dict[str, float]:
    """The 97.5 % points by plain rejection, of forks of 38 mm with 150 mm of travel and what is typed but for `left_out`; physics.md 12."""
    chance = np.random.default_rng(99)

    def even(low: float, high: float) -> Any:
        return chance.uniform(low, high, MANY)

    inner = np.where(chance.random(MANY) < 0.25, even(0.002, 0.004), 0.0)
    bore = 0.038 - 2 * even(0.0015, 0.0025) - inner if "bore" in left_out else np.full(MANY, 0.034)
    bore = bore + off_m / 1.959964 * chance.standard_normal(MANY)
    shaft = even(0.008, 0.012) if "shaft" in left_out else np.full(MANY, 0.010)
    piston = np.pi / 4 * bore**2
    ring = piston - np.pi / 4 * shaft**2
    column = np.maximum(TRAVEL_M / (even(1.9, 4.0) - 1), 0.014)
    main = piston * (TRAVEL_M + column) if "positive_volume" in left_out else np.full(MANY, 240e-6)
    negative = even(0.15, 0.5) * main if "negative_volume" in left_out else np.full(MANY, 50e-6)
    port = np.where(chance.random(MANY) < 0.6, 0.0, even(0.0, 0.006)) if "port_position" in left_out else np.zeros(MANY)
    shown = 70 * PSI_PA + even(-0.5 * PSI_PA, 0.5 * PSI_PA)
    gauge = (1 + 0.0075 * chance.standard_normal(MANY)) * shown + 0.5 * PSI_PA * chance.standard_normal(MANY)
    fits = main > piston * TRAVEL_M
    shut = (gauge + ATM) * main / (main - piston * port) * (negative + ring * port) / negative - ATM
    own = np.where(port > 0, shut, gauge)
    values = {
        "cap_force_n": gauge * piston,
        "ring_force_n": np.maximum(gauge * piston, np.where(port > 0, own * ring, 0.0)),
        "energy_j": _joules(gauge, main) + _joules(own, negative),
    }
    return {name: float(np.quantile(each[fits], 0.975)) for name, each in values.items()}


def air(*, without: Collection[str] = (), bore: str = '"34 mm"') -> str:
    words = TYPED | {"bore": bore}
    return "\n".join([*(f"{word} = {value}" for word, value in words.items() if word not in without), PRESSURE])


@pytest.mark.parametrize(
    ("file", "left_out", "off_m", "known"),
    [
        (bench(fork=OUTSIDE, fork__air=air(without=set(TYPED))), set(TYPED), 0.0, "guess"),
        (bench(fork=OUTSIDE, fork__air=air(), guessed='fork = "bore"'), {"bore"}, 0.0, "guess"),
        (bench(fork=OUTSIDE, fork__air=air(), guessed='fork = "bore, positive_volume, negative_volume"'),
         {"bore", "positive_volume", "negative_volume"}, 0.0, "guess"),
        (bench(fork=OUTSIDE, fork__air=air(), guessed='fork = "bore, shaft, positive_volume, negative_volume, port_position"'),
         set(TYPED), 0.0, "guess"),
        (bench(fork=OUTSIDE, fork__air=air(bore='"34 mm ± 1 mm"')), set(), 0.001, "high-side"),
    ],
    ids=["left out", "a guessed bore", "guessed volumes", "all guessed", "a bore with its uncertainty"],
)  # fmt: skip
def test_the_high_side_is_the_point_that_plain_draws_give(file: BenchFile, left_out: set[str], off_m: float, known: str) -> None:  # fmt: skip
    told = plan(file, draws=20_000)
    assert told.hazard_known == known
    expected = plain(left_out, off_m)
    for got in (told.hazard_before, told.hazard_after):
        assert got is not None
        for name, value in expected.items():
            assert getattr(got, name) == pytest.approx(value, rel=0.012), name


def test_a_guess_never_counts_for_less_than_what_was_typed_and_moves_nothing_else() -> None:
    """A bore of 40 mm is wider than any that goes into these stanchions: then the typed one counts."""
    exact = plan(bench(fork=OUTSIDE, fork__air=air(bore='"37.5 mm"').replace("240 ml", "300 ml")))
    marked = plan(
        bench(fork=OUTSIDE, fork__air=air(bore='"37.5 mm"').replace("240 ml", "300 ml"), guessed='fork = "bore"')
    )
    assert exact.hazard_before is not None and marked.hazard_before is not None
    assert marked.hazard_before.cap_force_n == exact.hazard_before.cap_force_n
    assert (exact.hazard_known, marked.hazard_known) == ("exact", "guess")
    assert marked.after == exact.after and marked.keep == exact.keep and marked.bounds is None


def test_what_is_no_key_of_an_air_spring_is_no_guess() -> None:
    with pytest.raises(FaultsFound) as found:
        read_text('[fork.air]\nbore = "34 mm"\n[guessed]\nfork = "bor, pressure"\n')
    said = [str(each) for each in found.value.faults]
    assert len(said) == 2 and said[0].startswith("line 4, [guessed] fork") and "Is it bore?" in said[0], said
    assert "pressure is none" in said[1]


def test_of_guesses_that_lock_nothing_is_computed() -> None:
    """With twenty spacers asked for, the chamber of many forks that fit is full before the end of the travel."""
    parts = (
        air().replace('port_position = "0 mm"', 'port_position = "3 mm"') + '\nspacers = 1\nspacer_volume = "8.5 ml"'
    )
    change = 'travel = "140 mm"\nspacers = 20'
    told = plan(bench(fork=OUTSIDE, fork__air=parts, change=change, guessed='fork = "bore, positive_volume"'))
    exact = plan(bench(fork=OUTSIDE, fork__air=parts, change=change))
    assert told.hazard_known == "guess" and told.hazard_before is not None and exact.hazard_before is not None
    assert told.hazard_after == exact.hazard_after, "of a build that locks nothing is said"
    assert told.hazard_before.energy_j > exact.hazard_before.energy_j > 0.0


# What the damper's gas holds, by the integral of p dV written out above; what air or coil holds, by the other ones.
DAMPERS = {
    "coil-shock-and-its-shelf": (0.5 * 80e3 * 0.001**2, _joules(14e5, 22e-6), "wind it back"),
    "gas-damper": (_joules(70 * PSI_PA, 250e-6 - 8.5e-6 - 3e-6) + _joules(70 * PSI_PA, 48e-6), _joules(90 * PSI_PA, 28e-6), "let it out, both chambers,"),
}  # fmt: skip


@pytest.mark.parametrize("name", DAMPERS)
def test_the_dampers_gas_is_no_air_to_let_out_and_no_coil_to_wind_back(name: str) -> None:
    spring_j, gas_j, way = DAMPERS[name]
    bench = read_text((EXAMPLES / f"{name}.toml").read_text())
    told = plan(bench)
    at = told.rear.hazard_before if told.rear is not None else told.hazard_before
    assert at is not None
    assert (at.spring_energy_j, at.damper_energy_j, at.energy_j) == pytest.approx((spring_j, gas_j, spring_j + gas_j))
    said, spring, gas = summary.of_plan(bench, told).hurts[-1].text, shut_in(spring_j, BENCH), shut_in(gas_j, BENCH)
    noun = "shock" if told.rear is not None else "fork"
    assert f"and holds {spring}: {way} before anything is unscrewed. The {noun}’s damper holds gas too, up to {gas}, and that stays in: leave it shut." in said  # fmt: skip
    shown = " ".join(plan_table.plan(bench, told, BENCH).split()).replace("\xa0", " ")
    assert said.replace("\xa0", " ") in shown and f"energy in the damper’s gas, which stays in {gas} {gas}".replace("\xa0", " ") in shown  # fmt: skip
    # The steps say the same of the can, and what a definition of theirs works out leaves the damper out too.
    of = known.spring(bench) if noun == "fork" else known.Missing(())
    if isinstance(of, known.Missing):
        return
    steps = PlanNumbers(before=of.chambers, after=of.chambers)
    assert dangers(steps)["can_energy"] == pytest.approx(spring_j)
    filled_to = filled(steps, 70 * PSI_PA)
    assert filled_to is not None and filled_to[1] == pytest.approx(spring_j)


@pytest.mark.parametrize(
    ("written", "instead", "coil", "gas"),
    [
        ('gas_pressure = "14 bar"', 'gas_pressure = "14 ± 2 bar"', "", " (high side)"),
        ('preload = "1 mm"', 'preload = "1 ± 0.5 mm"', " (high side)", ""),
    ],
    ids=["damper", "coil"],
)
def test_what_is_not_exact_of_a_damper_is_said_of_its_gas_alone(
    written: str, instead: str, coil: str, gas: str
) -> None:
    """“0.04 J (high side)” stood behind a coil of which everything was known, since its damper’s gas was not."""
    text = (EXAMPLES / "coil-shock-and-its-shelf.toml").read_text()
    assert text.count(written) == 1
    bench = read_text(text.replace(written, instead))
    said = summary.of_plan(bench, plan(bench, draws=500)).hurts[-1].text.replace("\xa0", " ")
    one, two = re.search(r" J(.*?): wind it back.* J(.*?), and that stays in", said).groups()  # type: ignore[union-attr]
    assert (one, two) == (coil, gas)


def test_a_plan_kept_before_the_damper_stood_apart_gives_its_gas_to_nothing_else() -> None:
    bench = read_text((EXAMPLES / "coil-shock-and-its-shelf.toml").read_text())
    kept = plan(bench).as_json()
    for each in (kept["rear"]["hazard"][state] for state in ("before", "after")):
        del each["spring_energy_j"], each["damper_energy_j"]
    said = summary.of_results(bench, kept).hurts[-1].text.replace("\xa0", " ")
    assert said.endswith("its collar with up to 80 N: wind it back before anything is unscrewed. The shock’s damper holds gas too, and that stays in: leave it shut.")  # fmt: skip
    kept["rear"]["hazard"]["before"] = kept["rear"]["hazard"]["after"] = {
        "cap_force_n": 0.0, "ring_force_n": 0.0, "energy_j": 59.0, "spring_energy_j": 0.0, "damper_energy_j": 59.0,
    }  # fmt: skip
    alone = summary.of_results(bench, kept).hurts[-1].text.replace("\xa0", " ")
    assert alone == "The shock’s damper holds gas, up to 59 J, and that stays in: leave it shut."
