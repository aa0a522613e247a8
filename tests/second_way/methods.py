"""Other methods for the core's numbers, each from first principles and none of them clever.

``Spring`` is the gas's energy: Helmholtz free energy for slow moves, internal energy for fast ones, in absolute
pressures with the outside pressure on everything that moves against it, plus the energy in bumpers and coil. Force is its
derivative by a complex step, exact to rounding. ``Rig`` is a bike as points in a plane, turned by brute force.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

Bike = dict[str, Any]
Amounts = list[tuple[float, float, float]]  # p*V, volume at x = 0, area that shrinks it (negative where it grows)

STEP = 1e-30


class Spring:
    """The air spring of one bike (SI dict of ``plain_input``) as an energy of its travel."""

    def __init__(self, bike: Bike, ambient_abs_pa: float) -> None:
        fork, air = bike["fork"], bike["fork"]["air"]
        self.fork, self.ambient, self.travel_m = fork, ambient_abs_pa, fork["travel"]
        self.exponent = bike.get("conditions", {}).get("fast_exponent", 1.3)
        self.area = math.pi * air["bore"] ** 2 / 4
        self.ring = self.area - math.pi * air["shaft"] ** 2 / 4
        self.main = (
            air["positive_volume"] - air.get("spacers", 0) * air.get("spacer_volume", 0) - air.get("oil_on_piston", 0)
        )
        self.kind = air.get("negative", "self-equalising")
        self.negative = air.get("negative_volume", 0.0) - air.get("grease_in_negative", 0.0)
        self.fill = air["pressure"] + ambient_abs_pa
        self.opens = air.get("port_position", 0.0)
        self.shuts = self.opens + air.get("port_length", 0.0)
        self.coil = air.get("negative_coil", {"rate": 0.0, "length": 0.0}) if self.kind == "coil" else None
        self.valve = air.get("negative_pressure", 0.0) + ambient_abs_pa
        if self.kind == "self-equalising" and (self.shuts < 0 or self.opens > self.travel_m):
            self.kind, self.valve = "separate-valve", ambient_abs_pa
        self.opens, self.shuts = max(self.opens, 0.0), max(self.shuts, 0.0)

    def chambers(self, x: float) -> Amounts:
        """The closed gas volumes around travel x once settled: every molecule is in one of them."""
        main_pieces: Amounts
        if self.kind == "self-equalising":
            # Molecules are conserved: the reading at x = 0 tells the pressure at which both parted coming out.
            at_port = self.main - self.area * self.opens
            parted = self.fill * self.main / at_port
            whole = (
                parted * (at_port + self.negative + self.ring * self.opens),
                self.main + self.negative,
                self.area - self.ring,
            )
            if x < self.opens:
                ours = parted * (self.negative + self.ring * self.opens)
                main_pieces = [(self.fill * self.main, self.main, self.area), (ours, self.negative, -self.ring)]
            elif x <= self.shuts and self.shuts > self.opens:
                main_pieces = [whole]
            else:
                shared = whole[0] / (whole[1] - whole[2] * self.shuts)
                main_pieces = [
                    (shared * (self.main - self.area * self.shuts), self.main, self.area),
                    (shared * (self.negative + self.ring * self.shuts), self.negative, -self.ring),
                ]
        else:
            main_pieces = [(self.fill * self.main, self.main, self.area)]
            if self.kind == "separate-valve":
                main_pieces.append((self.valve * self.negative, self.negative, -self.ring))
        return main_pieces + self.closed()

    def closed(self) -> Amounts:
        pieces: Amounts = []
        if legs := self.fork.get("lower_legs"):
            pieces.append((self.ambient * legs["air_volume"], legs["air_volume"], legs["area"]))
        if damper := self.fork.get("damper"):
            charge = damper["gas_pressure"] + self.ambient
            pieces.append((charge * damper["gas_volume"], damper["gas_volume"], math.pi * damper["rod"] ** 2 / 4))
        return pieces

    def solids(self, x: complex) -> complex:
        """Energy in bumpers and coil; F = k l (d/l)^m integrates to k l^2 (d/l)^(m+1) / (m+1)."""
        energy = 0.0 + 0.0j
        crushed: dict[str, Callable[[dict[str, Any]], complex]] = {
            "bumper": lambda b: x - (self.travel_m - b["length"]),
            "top_out": lambda b: b["length"] - x,
        }
        for name, crush in crushed.items():
            if (part := self.fork.get(name)) and crush(part).real > 0:
                power = part.get("power", 2.0)
                energy += (
                    part["rate"] * part["length"] ** 2 * (crush(part) / part["length"]) ** (power + 1) / (power + 1)
                )
        if self.coil and x.real < self.coil["length"]:
            energy += self.coil["rate"] * (self.coil["length"] - x) ** 2 / 2
        return energy

    def slow_energy(self, x: complex, around: float) -> complex:
        """Free energy at one temperature, -sum(pV ln V), and what the outside gives: + p_a sum(V). From any zero."""
        energy = self.solids(x)
        for amount, volume, area in self.chambers(around):
            energy += -amount * cmath.log(volume - area * x) + self.ambient * (volume - area * x)
        return energy

    def fast_energy(self, x: complex, anchor: float) -> complex:
        """Internal energy of a polytropic change, pV/(n-1), from gas settled at ``anchor``; lower legs and damper from 0."""
        n, energy = self.exponent, self.solids(x)
        settled = self.chambers(anchor)
        if len(settled) - len(self.closed()) == 1 and self.kind == "self-equalising":  # joined there; the port shuts
            pressure = settled[0][0] / (settled[0][1] - settled[0][2] * anchor)
            main, negative = self.main - self.area * anchor, self.negative + self.ring * anchor
            split = [(pressure * main, self.main, self.area), (pressure * negative, self.negative, -self.ring)]
            settled = split + settled[1:]
        for number, (amount, volume, area) in enumerate(settled):
            start = 0.0 if number >= len(settled) - len(self.closed()) else anchor
            begin, now = volume - area * start, volume - area * x
            if abs(n - 1.0) < 1e-12:
                energy += -amount * cmath.log(now)
            else:
                energy += amount * (begin / now) ** (n - 1) / (n - 1)
            energy += self.ambient * now
        return energy

    def slow_n(self, x: float) -> float:
        return self.slow_energy(complex(x, STEP), x).imag / STEP

    def fast_n(self, x: float, anchor: float) -> float:
        return self.fast_energy(complex(x, STEP), anchor).imag / STEP

    def kinks(self) -> list[float]:
        places = [self.opens, self.shuts, self.travel_m - self.fork.get("bumper", {}).get("length", 0.0)]
        places += [self.fork.get("top_out", {}).get("length", 0.0), self.coil["length"] if self.coil else 0.0]
        return sorted({x for x in places if 0.0 < x < self.travel_m})


class Rig:
    """A bike as points: bottom bracket at the origin, both axles, top of the head tube, a point along the axis and seat tube."""

    def __init__(
        self,
        head: float,
        seat: float,
        reach: float,
        stack: float,
        rear: tuple[float, float],
        radii: tuple[float, float],
    ):
        self.top = np.array([reach, stack, 0.0])
        self.axis = Rotation.from_euler("z", -head).apply([1.0, 0.0, 0.0])  # down and forward along the steering axis
        self.ahead = Rotation.from_euler("z", math.pi / 2).apply(self.axis)  # square to it, forward
        self.seat = Rotation.from_euler("z", math.pi - seat).apply([1.0, 0.0, 0.0])
        self.rear = np.array([*rear, 0.0])
        self.front_r, self.rear_r = radii

    def axle(self, along: float, offset: float) -> Any:
        """Front axle where the fork's foot lies ``along`` below the top of the head tube."""
        return self.top + along * self.axis + offset * self.ahead

    def stand(self, along: float, offset: float, rear_in: float) -> dict[str, float]:
        """Turn the whole bike until the lowest points of both wheels are level, then measure with rule and protractor."""
        front, rear = self.axle(along, offset), self.rear + [0.0, rear_in, 0.0]

        def uneven(angle: float) -> float:
            turn = Rotation.from_euler("z", angle)
            return float((turn.apply(front)[1] - self.front_r) - (turn.apply(rear)[1] - self.rear_r))

        angle = float(brentq(uneven, -0.6, 0.6, xtol=1e-16, rtol=8.9e-16))
        turn = Rotation.from_euler("z", angle)
        ground = turn.apply(rear)[1] - self.rear_r
        bb = np.array([0.0, -ground, 0.0])
        front, rear, top = turn.apply(front) + bb, turn.apply(rear) + bb, turn.apply(self.top) + bb
        axis, seat = turn.apply(self.axis), turn.apply(self.seat)
        meets = top + axis * (-top[1] / axis[1])  # where the steering axis meets the ground
        contact = np.array([front[0], 0.0, 0.0])
        head = math.atan2(-axis[1], axis[0])
        trail = meets[0] - contact[0]
        lever = np.cross(axis, contact - top)[2]  # distance of the contact from the axis, positive behind it
        return {
            "head_angle_deg": math.degrees(head),
            "seat_angle_deg": math.degrees(math.atan2(seat[1], -seat[0])),
            "reach_m": float(top[0] - bb[0]),
            "stack_m": float(top[1] - bb[1]),
            "bb_height_m": float(bb[1]),
            "wheelbase_m": float(front[0] - rear[0]),
            "front_centre_m": float(np.hypot(*(front - bb)[:2])),
            "trail_m": float(trail),
            "mechanical_trail_m": float(abs(lever)) * math.copysign(1.0, trail),
            "wheel_flop_m": float(trail) * math.sin(head) * math.cos(head),
        }
