"""A coil that carries, straight until its coils touch: force, energy along the travel, and what its preload holds."""

from __future__ import annotations

from topout.physics.gas import Floats


def force_n(travel_m: Floats, rate_n_per_m: Floats, preload_m: Floats) -> Floats:
    """Force [N] at a travel: F = k·(x + p). Nothing where the rate is 0. Shapes broadcast.

    travel_m [m] (…) 0 to the travel; rate_n_per_m [N/m] (…) 0 and more; preload_m [m] (…) 0 and more → [N] (…). Raises
    nothing. Source: physics.md 2, Hooke's law.
    """
    return rate_n_per_m * (travel_m + preload_m)


def energy_j(travel_m: Floats, rate_n_per_m: Floats, preload_m: Floats) -> Floats:
    """Work [J] from full extension to a travel: k·(x²/2 + p·x); the preload's own is not in it.

    travel_m [m] (…) 0 to the travel; rate_n_per_m [N/m] (…) 0 and more; preload_m [m] (…) 0 and more → [J] (…). Raises
    nothing. Source: derived from the force, by integration.
    """
    return rate_n_per_m * travel_m * (0.5 * travel_m + preload_m)


def preload_energy_j(rate_n_per_m: Floats, preload_m: Floats) -> Floats:
    """Energy [J] that the preload holds at full extension, let go when the cap comes off: k·p²/2.

    rate_n_per_m [N/m] (…) 0 and more; preload_m [m] (…) 0 and more → [J] (…). Raises nothing. Source: physics.md 2, Hooke's law.
    """
    return 0.5 * rate_n_per_m * preload_m**2


def rate_for(load_n: Floats, ratio: Floats, stroke_m: Floats, preload_m: Floats) -> Floats:
    """Rate [N/m] of a coil that holds a wheel's load at a stroke: F·r/(s + p).

    load_n [N] (…) on the wheel; ratio [1] (…) above 0 there; stroke_m [m] (…) above 0; preload_m [m] (…) 0 and more →
    [N/m] (…). Raises nothing. Source: derived, as in trade.md 4.
    """
    return load_n * ratio / (stroke_m + preload_m)
