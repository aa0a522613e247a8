"""A second positive chamber, a coil that carries and damper gas, by energies that are minimised, on 400 random springs.

No pressure law of the core enters: the floating piston is put where the energy of both gases is least (by halving, its stop
holding it), slow with the free energy -sum(pV ln V), fast with the internal energy pV/(n-1); force is the slope of what is left,
by a complex step. Source: thermodynamics.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from topout.physics import air_spring, coil, energy, hazards, second_chamber, spring_terms
from topout.physics.air_spring import Chambers
from topout.physics.curves import Curves, Scratch, fill
from topout.planner import keep

N = 400
AMBIENT = 101325.0


@pytest.fixture(scope="module")
def fit() -> Chambers:
    chance = np.random.default_rng(22)

    def between(low: float, high: float) -> Any:
        return chance.uniform(low, high, N)

    travel, bore, shaft = between(0.1, 0.2), between(0.026, 0.040), between(0.008, 0.014)
    area, legs = np.pi / 4 * bore**2, between(1e-3, 2e-3) * chance.integers(0, 2, N)
    main = area * travel * between(1.3, 2.2)
    kind = chance.integers(0, 4, N)  # none, own valve, port at a place, port with a length
    port = np.where(kind >= 2, chance.choice([0.0, 1.0], N) * between(0.001, 0.01), 0.0)
    rod = between(0.008, 0.012) * chance.integers(0, 2, N)
    pressure = between(3e5, 12e5) + AMBIENT
    bumper, hard = between(0.004, 0.01), between(2e4, 1e5) * chance.integers(0, 2, N)
    return Chambers(
        ambient_pa=np.full(N, AMBIENT), exponent=np.where(chance.integers(0, 5, N) == 0, 1.0, between(1.08, 1.4)), travel_m=travel,
        bore_m=bore, shaft_m=shaft, pressure_pa=pressure, positive_m3=main,
        negative_m3=np.where(kind > 0, main * between(0.15, 0.5), 1.0), gas_negative=kind > 0, equalises=kind >= 2,
        negative_pa=np.where(kind == 1, between(3e5, 9e5), AMBIENT), port_m=port,
        port_end_m=np.where(kind == 3, port + between(0.001, 0.02), port), coil_rate_n_per_m=np.zeros(N), coil_m=np.zeros(N),
        legs_m3=legs * travel * between(1.3, 3.0) + (legs == 0), legs_m2=legs, rod_m2=np.pi / 4 * rod**2,
        damper_m3=np.where(rod > 0, np.pi / 4 * rod**2 * travel * between(1.3, 4.0), 1.0), damper_pa=AMBIENT + between(0, 9e5),
        contact_m=travel - bumper, bumper_m=bumper, bumper_n_per_m=hard, bumper_power=np.full(N, 2.0), top_out_m=np.ones(N),
        top_out_n_per_m=np.zeros(N), top_out_power=np.ones(N), spring_n_per_m=between(2e3, 9e3) * chance.integers(0, 2, N),
        preload_m=between(0.0, 0.02), bind_m=np.full(N, np.inf), second_m3=between(2e-5, 1.2e-4),
        second_pa=pressure * between(0.7, 2.4),
    )  # fmt: skip


def least(energy_of: Any, most_m3: Any) -> Any:
    """Where an energy that has one least value is least: golden sections between 0 and `most_m3`, all rows at once."""
    golden = 0.5 * (np.sqrt(5.0) - 1.0)
    low, high = 0.0 * most_m3, most_m3
    for _ in range(90):
        a, b = high - golden * (high - low), low + golden * (high - low)
        left = energy_of(a) < energy_of(b)
        low, high = np.where(left, low, a), np.where(left, b, high)
    return 0.5 * (low + high)


def amounts(fit: Chambers) -> tuple[Any, Any, Any, Any, Any]:
    """Amounts p·V of the main gas and of the negative one, short of the port and past it, by molecules; and of the second."""
    area, ring = np.pi / 4 * fit.bore_m**2, np.pi / 4 * (fit.bore_m**2 - fit.shaft_m**2)
    second = fit.second_pa * fit.second_m3
    left_m3 = second / np.maximum(fit.second_pa, fit.pressure_pa)  # of the second gas at the reading
    main = fit.pressure_pa * (fit.positive_m3 + fit.second_m3 - left_m3)
    negative = np.where(fit.gas_negative & ~fit.equalises, fit.negative_pa * fit.negative_m3, 0.0)

    def shared(x: Any, molecules: Any, joined: bool) -> Any:
        """The pressure at the port, by halving on the molecules there are."""
        room = fit.positive_m3 - area * x + (fit.negative_m3 + ring * x if joined else 0.0)
        low, high = 1e3 + 0 * room, 1e8 + 0 * room
        for _ in range(200):
            p = 0.5 * (low + high)
            holds = p * room + np.where(p > fit.second_pa, p * fit.second_m3 - second, 0.0)
            low, high = np.where(holds < molecules, p, low), np.where(holds < molecules, high, p)
        return low

    parted = shared(fit.port_m, main, False) * (fit.negative_m3 + ring * fit.port_m)
    negative = np.where(fit.equalises, parted, negative)
    both = main + negative
    there = shared(fit.port_end_m, both, True) * (fit.negative_m3 + ring * fit.port_end_m)
    length = fit.equalises & (fit.port_end_m > fit.port_m)
    return main, negative, np.where(length, both - there, main), np.where(length, there, negative), second


def gas_n(fit: Chambers, x: Any, *, quick: bool = False) -> Any:
    """Force of all springs at x, from energies alone: settled, or of a quick stroke from full extension."""
    area, ring = (
        np.pi / 4 * fit.bore_m**2,
        np.where(fit.gas_negative, np.pi / 4 * (fit.bore_m**2 - fit.shaft_m**2), 0.0),
    )
    m_out, n_out, m_in, n_in, second = amounts(fit)
    in_port = fit.equalises & (fit.port_end_m > fit.port_m) & (x >= fit.port_m) & (x <= fit.port_end_m)
    outside = fit.equalises & (x < fit.port_m)
    fast, n = quick, fit.exponent
    main, negative = np.where(outside | fast, m_out, m_in), np.where(outside | fast, n_out, n_in)
    pooled = in_port & (not fast)
    if fast:
        left_m3 = second / np.maximum(fit.second_pa, fit.pressure_pa)
        parts = ((main, fit.positive_m3 + fit.second_m3 - left_m3), (negative, fit.negative_m3), (second, left_m3))
    else:
        parts = ((main, fit.positive_m3), (negative, fit.negative_m3), (second, fit.second_m3))

    def of(amount: Any, volume: Any, began: Any) -> Any:
        if not fast:
            return -amount * np.log(volume)
        near = np.abs(n - 1.0) < 1e-12
        return np.where(
            near, -amount * np.log(volume), amount * (began / volume) ** (n - 1) / np.where(near, 1.0, n - 1)
        )

    def whole(y: Any, at: Any) -> Any:
        """Energy with the floating piston a volume y off its stop."""
        main_m3 = fit.positive_m3 - area * at + y
        negative_m3 = fit.negative_m3 + ring * at
        apart = of(main, main_m3, parts[0][1]) + of(negative, negative_m3, parts[1][1])
        one = of(main + negative, main_m3 + negative_m3, 1.0) if not fast else apart
        total = np.where(pooled, one, apart) + of(second, fit.second_m3 - y, parts[2][1])
        legs_m3, damper_m3 = fit.legs_m3 - fit.legs_m2 * at, fit.damper_m3 - fit.rod_m2 * at
        total = (
            total
            + of(fit.ambient_pa * fit.legs_m3, legs_m3, fit.legs_m3)
            + of(fit.damper_pa * fit.damper_m3, damper_m3, fit.damper_m3)
        )
        swept = (area - ring + fit.legs_m2 + fit.rod_m2) * at
        crush = at - fit.contact_m
        bumper = fit.bumper_n_per_m * fit.bumper_m**2 * np.where(crush.real > 0, crush / fit.bumper_m, 0) ** 3 / 3
        return total - fit.ambient_pa * swept + bumper + fit.spring_n_per_m * (fit.preload_m + at) ** 2 / 2

    y = least(lambda volume: whole(volume, x), fit.second_m3 * (1.0 - 1e-9))
    return whole(y, x + 1e-30j).imag / 1e-30


X = np.linspace(0.02, 0.98, 17)


def test_slow_force_is_the_slope_of_the_least_free_energy(fit: Chambers) -> None:
    s = air_spring.settle(fit)
    given_way = 0
    for share in X:
        x = share * fit.travel_m
        got = air_spring.force(s, x)
        np.testing.assert_allclose(got, gas_n(fit, x), rtol=3e-7, atol=1e-3)
        given_way += int(np.count_nonzero(air_spring.pressures(s, x)[0] > fit.second_pa))
    assert 0.2 * N * X.size < given_way < 0.95 * N * X.size  # both kinds are there


def test_fast_force_is_the_slope_of_the_least_internal_energy(fit: Chambers) -> None:
    s = air_spring.settle(fit)
    for share in X:
        x = share * fit.travel_m
        np.testing.assert_allclose(
            air_spring.force_fast(s, x, np.zeros(N)), gas_n(fit, x, quick=True), rtol=3e-7, atol=1e-2
        )


def test_a_stroke_from_sag_passes_through_the_settled_force(fit: Chambers) -> None:
    s = air_spring.settle(fit)
    bare = replace(
        fit, rod_m2=0.0 * fit.rod_m2, legs_m2=0.0 * fit.legs_m2, legs_m3=0.0 * fit.legs_m3 + 1.0
    )  # those start at 0
    s = air_spring.settle(bare)
    at = 0.35 * fit.travel_m
    np.testing.assert_allclose(air_spring.force_fast(s, at, at), air_spring.force(s, at), rtol=1e-12)
    same = air_spring.settle(replace(bare, exponent=np.ones(N)))  # isothermal: the slow force past the port
    x = 0.8 * fit.travel_m
    np.testing.assert_allclose(air_spring.force_fast(same, x, at), air_spring.force(same, x), rtol=1e-11)


def test_rate_is_the_slope_of_the_force_and_whole_curves_agree(fit: Chambers) -> None:
    s = air_spring.settle(fit)
    x = np.linspace(0.013, 0.987, 31)[:, None] * fit.travel_m
    step = 1e-7
    force, rate, main, main_slope = air_spring.force_and_rate(s, x)
    (one, _, p1, _), (two, _, p2, _) = (air_spring.force_and_rate(s, x + by) for by in (-step, step))
    gives_way = (main - fit.second_pa) * (p1 - fit.second_pa) <= 0
    gives_way |= (main - fit.second_pa) * (p2 - fit.second_pa) <= 0
    for place in (fit.port_m, fit.port_end_m, fit.contact_m):
        gives_way |= np.abs(x - place) < 3 * step
    assert np.count_nonzero(gives_way) < 0.01 * x.size
    slope = (two - one) / (2 * step)
    np.testing.assert_allclose(np.where(gives_way, rate, slope), rate, rtol=2e-5)
    np.testing.assert_allclose(np.where(gives_way, main_slope, (p2 - p1) / (2 * step)), main_slope, rtol=2e-5)
    out = Curves.empty(N, 31)
    fill(s, 31, out, Scratch(N, 31))
    x = np.linspace(0.0, 1.0, 31)[:, None] * fit.travel_m
    force, rate, main, _ = air_spring.force_and_rate(s, x)
    negative = air_spring.pressures(s, x)[1]
    for got, wanted in (
        (out.force_n, force),
        (out.rate_n_per_m, rate),
        (out.positive_pa, main),
        (out.negative_pa, negative),
    ):
        np.testing.assert_allclose(got.T, wanted, rtol=1e-13)
    np.testing.assert_allclose(out.force_fast_n.T, air_spring.force_fast(s, x, np.zeros(N)), rtol=1e-12)


def test_at_both_ends_of_the_ports_length_the_chambers_are_one(fit: Chambers) -> None:
    """On the very edge: one pressure on both sides, and the room is both chambers'."""
    s = air_spring.settle(fit)
    area, ring = np.pi / 4 * fit.bore_m**2, np.pi / 4 * (fit.bore_m**2 - fit.shaft_m**2)
    length = fit.equalises & (fit.port_end_m > fit.port_m)
    assert length.any() and not length.all()
    for x in (fit.port_m, fit.port_end_m):
        main, negative = air_spring.pressures(s, x)
        np.testing.assert_allclose(negative[length], main[length], rtol=1e-12)
        room_m3, pooled = air_spring.main_room_m3(s, x)
        alone, both = fit.positive_m3 - area * x, fit.positive_m3 - area * x + fit.negative_m3 + ring * x
        assert (pooled == length).all()
        np.testing.assert_allclose(room_m3, np.where(length, both, alone), rtol=1e-12)


def test_terms_are_computed_alone_and_sum_to_the_force(fit: Chambers) -> None:
    s = air_spring.settle(fit)
    x = np.linspace(0.0, 1.0, 33)[:, None] * fit.travel_m
    parts = spring_terms.terms(s, x)
    np.testing.assert_allclose(np.sum(list(parts.values()), axis=0), air_spring.force(s, x), rtol=1e-10, atol=1e-9)
    given_way = air_spring.pressures(s, x)[0] > fit.second_pa * (1 + 1e-9)
    assert (parts["second_n"][given_way] < 0).all() and (parts["second_n"][~given_way] > -1e-6).all()
    held = air_spring.settle(replace(fit, second_m3=np.zeros(N)))  # no second chamber: the main gas alone pushes
    alone = spring_terms.terms(held, x)
    outside = ~fit.equalises & (fit.pressure_pa < fit.second_pa)
    np.testing.assert_allclose(parts["positive_n"][:, outside], alone["positive_n"][:, outside], rtol=1e-12)


def test_energies_are_the_forces_summed_up(fit: Chambers) -> None:
    """By Gauss nodes on fine panels; kinks lie inside some, so to parts in a million."""
    s = air_spring.settle(fit)
    nodes, weights = np.polynomial.legendre.leggauss(6)
    edges = np.linspace(0.0, 1.0, 401)
    shares = (edges[:-1, None] + (edges[1:] - edges[:-1])[:, None] * (nodes + 1) / 2).ravel()
    each = (np.broadcast_to(weights / 2, (400, 6)) / 400).ravel()
    x = shares[:, None] * fit.travel_m
    slow = (each[:, None] * air_spring.force(s, x)).sum(axis=0) * fit.travel_m
    fast = (each[:, None] * air_spring.force_fast(s, x, np.zeros(N))).sum(axis=0) * fit.travel_m
    np.testing.assert_allclose(energy.slow_j(s), slow, rtol=3e-6)
    np.testing.assert_allclose(energy.fast_j(s), fast, rtol=3e-6)


@pytest.mark.parametrize("which", ["load", "end"])
def test_a_keep_holds_what_it_says(fit: Chambers, which: str) -> None:
    """Filled to the pressure found, the second one left as set, the force is the wanted one; where there is none, none gives it."""
    s = air_spring.settle(fit)
    x = fit.travel_m if which == "end" else 0.25 * fit.travel_m
    wanted = 1.15 * air_spring.force(s, x)
    found = keep._for_force(s, x, wanted)
    there = np.isfinite(found)
    assert there.mean() > 0.9
    again = air_spring.settle(replace(fit, pressure_pa=np.where(there, found, 1e5) + fit.ambient_pa))
    np.testing.assert_allclose(air_spring.force(again, x)[there], wanted[there], rtol=1e-9)


def test_the_curve_keep_is_the_least_of_all(fit: Chambers) -> None:
    """Against a fine scan of the misfit itself on forty of them."""
    some = fit.take(np.arange(40))
    before = air_spring.settle(some)
    after_fit = replace(some, positive_m3=some.positive_m3 * 0.93)
    after = air_spring.settle(after_fit)
    got = keep.at_curve(before, after)
    span = np.where(some.bumper_n_per_m > 0, some.contact_m, some.travel_m)
    x = (np.arange(2000) + 0.5)[:, None] / 2000 * span
    was = air_spring.force(before, x)

    def misfit(gauge_pa: Any) -> Any:
        filled = air_spring.settle(replace(after_fit, pressure_pa=gauge_pa + AMBIENT))
        return ((air_spring.force(filled, x) - was) ** 2).mean(axis=0)

    assert np.isfinite(got).all()
    best = misfit(got)
    for by in (-2e4, -2e3, -2e2, 2e2, 2e3, 2e4):
        assert (misfit(got + by) >= best * (1 - 1e-6) - 1e-6).all(), by


def test_what_can_hurt_counts_the_second_chamber_and_the_preload(fit: Chambers) -> None:
    cap, ring, energy_j, *_ = hazards.at_full_extension(fit)
    behind = np.maximum(fit.second_pa, fit.pressure_pa)
    area = np.pi / 4 * fit.bore_m**2
    np.testing.assert_allclose(cap, (behind - AMBIENT) * area + fit.spring_n_per_m * fit.preload_m)
    without = replace(fit, second_m3=np.zeros(N), preload_m=np.zeros(N))
    cap_0, ring_0, energy_0, *_ = hazards.at_full_extension(without)
    assert (cap >= cap_0).all()
    own = behind / AMBIENT
    own_port = ~fit.equalises | (fit.port_m == 0.0) | (1.3 * fit.pressure_pa < fit.second_pa)
    more = AMBIENT * fit.second_m3 * (own * np.log(own) - own + 1) + 0.5 * fit.spring_n_per_m * fit.preload_m**2
    np.testing.assert_allclose((energy_j - energy_0)[own_port], more[own_port], rtol=1e-9)
    # Past a port further in, a main chamber that has the second one's room too gives the negative one less to be squeezed.
    np.testing.assert_array_equal(ring[own_port], ring_0[own_port])
    assert (ring <= ring_0).all() and (ring < ring_0).any()


def test_every_field_is_used_here() -> None:
    assert {"second_m3", "second_pa", "spring_n_per_m", "preload_m", "contact_m"} <= {f.name for f in fields(Chambers)}
    assert coil.preload_energy_j(np.array(8000.0), np.array(0.01)) == pytest.approx(0.4)
    assert second_chamber.amount_j(*(np.array(v) for v in (2e5, 1e-4, 1e5, 1e-4))) == pytest.approx(30.0)
