"""An elastomer crushed over the last part of the travel, or in mirror image at full extension."""

from __future__ import annotations

from typing import Final

import numpy as np

from topout.physics.gas import Floats

_ON_CONTACT_M: Final = 1e-12  # contact itself counts as inside: the rate there is the bumper's own
_SMALLEST: Final = 1e-12


def force_and_rate(crush_m: Floats, length_m: Floats, rate_n_per_m: Floats, power: Floats) -> tuple[Floats, Floats]:
    """Force [N] and its slope [N/m] at a crush [m]; both zero before contact. Shapes broadcast.

    F = k·l·(δ/l)^m and dF/dδ = k·m·(δ/l)^(m−1) for δ ≥ 0. At δ = 0 the slope is the one from inside the bumper, and the
    force at most k·l·10⁻¹²: below that share of the length numpy's power slows down a hundredfold.
    Source: physics.md section 2; a power law, common practice for rubber in compression, no source.

    crush_m [m] (…) any; length_m [m] (…) above 0; rate_n_per_m [N/m] (…) 0 and more; power [1] (…) 1 and more → [N],
    [N/m] (…) each. Raises nothing. Source: physics.md 2; a power law, common practice for rubber in compression, no
    source.
    """
    touching = crush_m >= -_ON_CONTACT_M
    if not touching.any():
        return np.zeros(touching.shape), np.zeros(touching.shape)
    if 4 * np.count_nonzero(touching) > touching.size:
        share = np.maximum(crush_m / length_m, _SMALLEST)
        slope = rate_n_per_m * power * np.exp((power - 1.0) * np.log(share))
        slope *= touching
        return slope * share * (length_m / power), slope
    # Powers are dear and most of the travel is free of the bumper: only what touches is raised.
    crush, length, rate, m = (
        np.broadcast_to(value, touching.shape)[touching] for value in (crush_m, length_m, rate_n_per_m, power)
    )
    share = np.maximum(crush / length, _SMALLEST)
    forces, slopes = np.zeros(touching.shape), np.zeros(touching.shape)
    slopes[touching] = rate * m * np.exp((m - 1.0) * np.log(share))
    forces[touching] = slopes[touching] * share * length / m
    return forces, slopes


def energy_j(crush_m: Floats, length_m: Floats, rate_n_per_m: Floats, power: Floats) -> Floats:
    """Work [J] to crush it from contact: k·l²·(δ/l)^(m+1)/(m+1).

    crush_m [m] (…) any; length_m [m] (…) above 0; rate_n_per_m [N/m] (…) 0 and more; power [1] (…) 1 and more → [J]
    (…). Raises nothing. Source: derived from the force, by integration.
    """
    share = np.maximum(crush_m / length_m, 0.0)
    result: Floats = rate_n_per_m * length_m**2 * share ** (power + 1.0) / (power + 1.0)
    return result
