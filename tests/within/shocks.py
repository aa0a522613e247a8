"""Rear shocks with their truth, as a workshop sees them: drawn from what cans usually are and nothing of the planner.

Imports the physics alone. Every shock has a true spring behind a true linkage, a rider sitting on it, one gauge with a gain and a
zero of its own; what comes out is what a workshop writes down (rounded, with the scatter of ring, posture and gauge) and the
true answers. Ranges: trade.md 4 for bore, body and pressure, the rest common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from topout.physics import air_spring
from topout.physics.air_spring import Chambers

PSI = 6894.757293168361
G = 9.80665
AMBIENT = 101325.0


@dataclass(frozen=True)
class Shock:
    """What the workshop writes down, as a bench file, then with the can opened and measured, or with its gauge read held in, and the
    true answers by the names of the plan (SI)."""

    text: str
    with_reading: str
    held_in: str
    truth: dict[str, float]


def shock(chance: np.random.Generator, stretch: float = 1.0) -> Shock | None:
    """One shock with its truth; None where nobody would ride it (a sag out of 12 to 45 %, or a lost stroke). `stretch` moves the
    ranges up."""

    def between(low: float, high: float) -> float:
        return float(low + (high - low) * (chance.random() * stretch))

    outside, stroke = (
        float(chance.choice([0.048, 0.050, 0.052, 0.055])),
        float(chance.choice([0.045, 0.050, 0.055, 0.060])),
    )
    sleeve = between(0.003, 0.008) if chance.random() < 0.4 else 0.0
    bore = outside - 2 * between(0.0015, 0.003) - sleeve
    most = min(max(bore - 0.006, 0.6 * bore), 0.040)
    body = between(0.028, most)
    area = np.pi / 4 * bore**2
    end = max(stroke / (between(1.9, 4.5) - 1), 0.010)
    spacers, spacer = int(chance.integers(0, 3)), between(4e-6, 15e-6)
    main = area * (stroke + end)  # with what is fitted
    negative = between(0.15, 0.5) * main
    port = 0.0 if chance.random() < 0.4 else between(0.0, 0.006)
    friction = between(15, 60)
    rod, gas = between(0.008, 0.013), between(5e5, 20e5) + AMBIENT
    rod_m2 = np.pi / 4 * rod**2
    gas_m3 = max(between(15e-6, 40e-6), 1.5 * rod_m2 * stroke)
    bumper, rate = between(0.004, 0.008), between(60e3, 250e3)
    share = 0.41 + 0.015 * chance.standard_normal()
    gain, zero = 0.0075 * chance.standard_normal(), 0.5 * PSI * chance.standard_normal()
    rider, bike, unsprung = float(chance.integers(55, 105)), float(chance.integers(12, 17)), 3.5
    first, last = between(2.5, 3.1), between(2.0, 2.5)
    wheel = stroke * (first - last) / np.log(first / last)  # a ratio that falls evenly along the wheel's travel
    points = [(w, first + (last - first) * w / wheel) for w in np.linspace(0.0, wheel, 5)]
    falls = (last - first) / wheel
    ends = stroke - float(chance.choice([0.0, 0.0025, 0.005]))  # with stroke reducers
    more = int(chance.choice([1, 1, -1])) if spacers else 1

    def spring(gauge_pa: float, stroke_m: float, added: int = 0, hose_m3: float = 0.0) -> air_spring.EquilibratedSpring:
        values = {
            "ambient_pa": AMBIENT, "exponent": 1.3, "travel_m": stroke_m, "bore_m": bore, "shaft_m": body,
            "pressure_pa": gauge_pa + AMBIENT, "positive_m3": main - added * spacer + hose_m3, "negative_m3": negative,
            "negative_pa": AMBIENT, "port_m": port, "port_end_m": port, "coil_rate_n_per_m": 0.0, "coil_m": 0.0,
            "legs_m3": 1.0, "legs_m2": 0.0, "rod_m2": rod_m2, "damper_m3": gas_m3, "damper_pa": gas,
            "contact_m": stroke_m - bumper, "bumper_m": bumper, "bumper_n_per_m": rate, "bumper_power": 2.0,
            "top_out_m": 1.0, "top_out_n_per_m": 0.0, "top_out_power": 1.0, "spring_n_per_m": 0.0, "preload_m": 0.0,
            "bind_m": np.inf, "second_m3": 0.0, "second_pa": AMBIENT,
        }  # fmt: skip
        made = {name: np.array([value]) for name, value in values.items()}
        return air_spring.settle(Chambers(**made, gas_negative=np.array([True]), equalises=np.array([True])))

    load = (rider + bike) * (1.0 - share) * G - unsprung * G

    def force(of: air_spring.EquilibratedSpring, s: float) -> float:
        return float(air_spring.force(of, np.array([s]))[0])

    def wanted(s: float) -> float:
        """What the wheel's load asks of the shock there, by virtual work: F·ds = load·dw. The ratio that falls evenly along the
        wheel's travel falls exponentially along the stroke."""
        return load * first * float(np.exp(falls * s))

    def rests(of: air_spring.EquilibratedSpring, by: float, stroke_m: float) -> float:
        low, high = 0.0, stroke_m
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if force(of, middle) < wanted(middle) + by else (low, middle)
        return 0.5 * (low + high)

    shown_psi = float(chance.integers(110, 260))
    true_pa = (shown_psi * PSI + chance.uniform(-0.5, 0.5) * PSI) * (1 + gain) + zero
    before = spring(true_pa, stroke)
    if air_spring.locked(before.fit)[0] or force(before, 0.0) < 0.0:
        return None
    sag = rests(before, 0.0, stroke)
    stands = rests(before, chance.uniform(-1, 1) * friction, stroke)
    ring = round((stands + np.hypot(0.0005, 0.0005) * chance.standard_normal()) * 1e3 * 2) / 2
    if not 0.12 < sag / stroke < 0.45 or ring <= 0:
        return None
    after = spring(true_pa, ends, more)
    if air_spring.locked(after.fit)[0]:
        return None

    def pressure_for(at_m: float) -> float:
        """Shown by the job's own gauge: force is linear in the pressure, so two of them say the line."""
        one, two = (force(spring(pa, ends, more), at_m) for pa in (8e5, 16e5))
        return (8e5 + 8e5 * (wanted(at_m) - one) / (two - one) - zero) / (1 + gain)

    truth = {
        "rear-keep-sag": pressure_for(sag), "rear-keep-sag-share": pressure_for(sag / stroke * ends),
        "rear-sag": rests(after, 0.0, ends), "rear-end-force": force(after, ends),
    }  # fmt: skip
    empty_ml = (main + spacers * spacer) * 1e6
    filled_ml = round(empty_ml * (1 + 0.02 * chance.standard_normal()), 1)
    pairs = ", ".join(f'["{w * 1e3:.3f} mm", {r:.5f}]' for w, r in points)
    text = f"""
[rider]
mass = "{rider} kg"
[bike]
mass = "{bike} kg"
unsprung_front = "3.0 kg"
unsprung_rear = "{unsprung} kg"
[shock]
stroke = "{stroke * 1e3:.1f} mm"
body = "{outside * 1e3:.0f} mm"
sag = "{ring} mm"
leverage = [{pairs}]
[change.shock]
spacers = {spacers + more}
stroke = "{ends * 1e3:.1f} mm"
[shock.air]
spacers = {spacers}
pressure = "{shown_psi:.0f} psi"
"""
    by_caliper = [round((size + 0.00005 * chance.standard_normal()) * 1e3, 2) for size in (bore, body)]
    opened = f'bore = "{by_caliper[0]} mm u 0.05 mm"\nshaft = "{by_caliper[1]} mm u 0.05 mm"\n'
    held_mm = round(0.7 * stroke * 1e3)
    begun = spring((30 + chance.uniform(-0.5, 0.5)) * PSI * (1 + gain) + zero, stroke, hose_m3=3e-6)
    there, _ = air_spring.pressures(begun, np.array([held_mm * 1e-3 + 0.0005 * chance.standard_normal()]))
    reads = round((float(there[0]) - AMBIENT - zero) / (1 + gain) / PSI)
    reading = f'[[found.reading]]\nend = "rear"\ntravel = "{held_mm} mm"\npressure = "{reads} psi"\nhose = "3 ml"\nstart = "30 psi"\n'
    return Shock(text, f'{text}{opened}positive_volume = "{filled_ml} ml u 2 %"\n', text + reading, truth)


def shocks(count: int, seed: int, stretch: float = 1.0) -> list[Shock]:
    """So many shocks; those that nobody would ride are drawn again."""
    chance = np.random.default_rng(seed)
    found: list[Shock] = []
    while len(found) < count:
        one = shock(chance, stretch)
        if one is not None:
            found.append(one)
    return found
