"""Forks with their truth, as a workshop sees them: drawn by physics.md 12 and nothing of the planner.

Imports the physics alone. Every fork has a true spring, a rider standing on it, one gauge with a gain and a zero of its own;
what comes out is what a workshop writes down (rounded, with the scatter of tape, ring and gauge) and the true answers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from made_up import FRAME, weights
from topout.physics import air_spring, geometry
from topout.physics.air_spring import Chambers

PSI = 6894.757293168361
G = 9.80665
AMBIENT = 101325.0
# Of the frame, the same for all: nothing of it is drawn, and only its head angle presses on the fork.
CHART = geometry.Chart(
    *(
        np.array([each])
        for each in (np.radians(65.5), np.radians(77.0), 0.47, 0.625, 0.435, 0.025, 0.546, 0.044, 0.369, 0.369)
    )
)
STAND = geometry.Fitted(*(np.array([each]) for each in (0.546, 0.044, 0.369, 0.369, 0.0)))


@dataclass(frozen=True)
class Fork:
    """What the workshop writes down, as a bench file, and the true answers by the names of the plan (SI)."""

    text: str
    with_reading: str
    truth: dict[str, float]


def fork(chance: np.random.Generator, stretch: float = 1.0) -> Fork | None:
    """One fork with its truth; None where nobody would ride it (a sag out of 8 to 40 %). `stretch` moves the ranges up."""

    def between(low: float, high: float) -> float:
        return float(low + (high - low) * (chance.random() * stretch))

    outside, travel = float(chance.choice([0.034, 0.035, 0.036, 0.038])), float(chance.choice([0.12, 0.14, 0.15, 0.16]))
    inner = between(0.002, 0.004) if chance.random() < 0.25 else 0.0
    bore, shaft = outside - 2 * between(0.0015, 0.0025) - inner, between(0.008, 0.012)
    area = np.pi / 4 * bore**2
    end = max(travel / (between(1.9, 4.0) - 1), 0.014)
    spacers = int(chance.integers(0, 3))
    main = area * (travel + end)
    negative = between(0.15, 0.5) * main
    port = 0.0 if chance.random() < 0.6 else between(0.0, 0.006)
    friction = between(8, 25)
    legs_area = np.pi / 2 * (outside**2 - 0.01**2)
    legs = max(between(250e-6, 600e-6), 1.25 * legs_area * (travel + 0.02))
    bumper, rate = between(0.005, 0.010), between(40e3, 120e3)
    share = 0.41 + 0.015 * chance.standard_normal()
    gain, zero = 0.0075 * chance.standard_normal(), 0.5 * PSI * chance.standard_normal()
    rider, bike, unsprung = float(chance.integers(55, 105)), float(chance.integers(12, 17)), 3.0
    true_travel = travel + 0.0005 * chance.standard_normal()

    def spring(gauge_pa: float, travel_m: float, more_m3: float = 0.0) -> air_spring.EquilibratedSpring:
        room = legs + legs_area * (travel_m - true_travel)  # with a longer shaft the lower legs sit as much lower
        values = {
            "ambient_pa": AMBIENT, "exponent": 1.3, "travel_m": travel_m, "bore_m": bore, "shaft_m": shaft,
            "pressure_pa": gauge_pa + AMBIENT, "positive_m3": main + more_m3, "negative_m3": negative, "negative_pa": AMBIENT,
            "port_m": port, "port_end_m": port, "coil_rate_n_per_m": 0.0, "coil_m": 0.0, "legs_m3": room, "legs_m2": legs_area,
            "rod_m2": 0.0, "damper_m3": 1.0, "damper_pa": AMBIENT, "contact_m": travel_m - bumper, "bumper_m": bumper, "bumper_n_per_m": rate, "bumper_power": 2.0,
            "top_out_m": 1.0, "top_out_n_per_m": 0.0, "top_out_power": 1.0, "spring_n_per_m": 0.0, "preload_m": 0.0, "bind_m": np.inf,
            "second_m3": 0.0, "second_pa": AMBIENT,
        }  # fmt: skip
        made = {name: np.array([value]) for name, value in values.items()}
        return air_spring.settle(Chambers(**made, gas_negative=np.array([True]), equalises=np.array([True])))

    vertical = max((rider + bike) * share - unsprung, 0.0) * G

    def load(x: float) -> float:
        sine, _ = geometry.head_angle_sine(geometry.axle_frame(CHART, STAND), np.array([x]))
        return float(vertical * sine[0])

    def force(of: air_spring.EquilibratedSpring, x: float) -> float:
        return float(air_spring.force(of, np.array([x]))[0])

    def rests(of: air_spring.EquilibratedSpring, by: float, travel_m: float) -> float:
        low, high = 0.0, travel_m
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if force(of, middle) < load(middle) + by else (low, middle)
        return 0.5 * (low + high)

    shown_psi = float(chance.integers(45, 110))
    mark = (
        chance.uniform(-0.5, 0.5) * PSI
    )  # the gauge is read to its mark: what it shows lies anywhere within half of one
    true_pa = (shown_psi * PSI + mark) * (1 + gain) + zero
    before = spring(true_pa, true_travel)
    stands = rests(before, chance.uniform(-1, 1) * friction, true_travel)
    sag = rests(before, 0.0, true_travel)
    lost = 0.0 if force(before, 0.0) >= 0 else _zero(before, true_travel)
    ring = round((stands - lost + np.hypot(0.0005, 0.001) * chance.standard_normal()) * 1e3 * 2) / 2
    if not 0.08 < sag / travel < 0.40 or ring <= 0:
        return None
    new_travel = travel + float(chance.choice([-0.02, -0.01, 0.01, 0.02]))
    after = spring(true_pa, new_travel)
    if air_spring.locked(after.fit)[0]:
        return None

    def pressure_for(wanted: float, at_m: float) -> float:
        """Shown by the job's own gauge: force is linear in the pressure, so two of them say the line."""
        one, two = (force(spring(pa, new_travel), at_m) for pa in (3e5, 6e5))
        true = 3e5 + 3e5 * (wanted - one) / (two - one)
        return (true - zero) / (1 + gain)

    held = 0.7 * travel
    full = spring(true_pa, true_travel, 3e-6)
    main_pa, _ = air_spring.pressures(full, np.array([held + 0.0005 * chance.standard_normal()]))
    far_in = round(((float(main_pa[0]) - AMBIENT - zero) / (1 + gain)) / PSI)
    share_x = sag / true_travel * new_travel
    truth = {
        "keep-sag": pressure_for(load(sag), sag), "keep-sag-share": pressure_for(load(share_x), share_x),
        "sag": rests(after, 0.0, new_travel), "end-force": force(after, new_travel),
    }  # fmt: skip
    text = (
        weights(f"{rider} kg", f"{bike} kg", f"{unsprung} kg")
        + FRAME
        + f"""[fork]
length = "546 mm"
offset = "44 mm"
travel = "{travel * 1e3:.0f} mm"
stanchion = "{outside * 1e3:.0f} mm"
[fork.air]
spacers = {spacers}
pressure = "{shown_psi:.0f} psi"
[change]
travel = "{new_travel * 1e3:.0f} mm"
fork_length = "546 mm"
[found]
sag = "{ring} mm"
pressure = "{shown_psi:.0f} psi"
"""
    )
    reading = f'[[found.reading]]\ntravel = "{held * 1e3:.1f} mm"\npressure = "{far_in} psi"\nhose = "3 ml"\n'
    return Fork(text, text + reading, truth)


def _zero(of: air_spring.EquilibratedSpring, travel_m: float) -> float:
    low, high = 0.0, travel_m
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if float(air_spring.force(of, np.array([middle]))[0]) < 0 else (low, middle)
    return 0.5 * (low + high)


def forks(count: int, seed: int, stretch: float = 1.0) -> list[Fork]:
    """So many forks; those that nobody would ride are drawn again."""
    chance = np.random.default_rng(seed)
    found: list[Fork] = []
    while len(found) < count:
        one = fork(chance, stretch)
        if one is not None:
            found.append(one)
    return found
