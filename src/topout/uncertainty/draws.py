"""Numbers drawn for what is not known exactly: one stream of chance a quantity, so that the same question draws the same answer.

A quantity has its own stream, made from the seed and its name: one more quantity in a question changes none of the others' draws,
and an answer does not jump while a control moves.
"""

from __future__ import annotations

import math
import zlib
from typing import Final, TypeAlias

import numpy as np

from topout.uncertainty.doubt import Doubt

Floats: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Places: TypeAlias = np.ndarray[tuple[int], np.dtype[np.intp]]


def stream(seed: int, name: str) -> np.random.Generator:
    """The stream of chance of one quantity.

    seed [1] (one) 0 and more; name [-] (one) any → [-] (one). Raises nothing. Source: none needed, bookkeeping.
    """
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, zlib.crc32(name.encode())])))


def uniform(chance: np.random.Generator, low: float, high: float, count: int) -> Floats:
    """Draws that lie anywhere between two limits with equal right, stratified: one in each of `count` equal parts.

    chance [-] (one) a stream; low, high [SI] (one) low at most high; count [1] (one) 1 and more → [SI] (count,) low to
    high, in no order. Raises nothing. Source: JCGM 101:2008 6.4.2; McKay, Beckman and Conover 1979 for the strata.
    """
    return low + (high - low) * _strata(chance, count)


def normal(chance: np.random.Generator, mean: float, standard: float, count: int) -> Floats:
    """Draws of a normal distribution, stratified.

    chance [-] (one) a stream; mean [SI] (one) any; standard [SI] (one) 0 and more; count [1] (one) 1 and more → [SI]
    (count,) any. Raises nothing. Source: JCGM 101:2008 6.4.7; Wichura 1988 for the inverse.
    """
    return mean + standard * inverse_normal(_strata(chance, count))


def doubted(
    chance: np.random.Generator, value: float, off: Doubt, allowed: tuple[float, float], count: int
) -> tuple[Floats, float]:
    """Draws of a value that was written with a doubt, and the share of them that lay outside what is allowed.

    Those are drawn anew until they lie inside: the same as drawing from the part of the distribution that does.

    chance [-] (one) a stream; value [SI] (one) allowed; off [SI] (one) its doubt; allowed [SI] (2) the least and the most;
    count [1] (one) 1 and more → [SI] (count,) within what is allowed, [1] (one) 0 to 1. Raises nothing. Source: JCGM
    101:2008 6.4.2 and 6.4.7; physics.md 10.
    """
    low, high = min(allowed[0], value), max(allowed[1], value)
    if off.amount_si == 0.0:
        return np.full(count, value), 0.0
    if off.even:
        least, most = max(low, value - off.amount_si), min(high, value + off.amount_si)
        return uniform(chance, least, most, count), 1.0 - (most - least) / (2.0 * off.amount_si)
    standard = off.standard_si
    below, upto = (0.5 * (1.0 + math.erf((end - value) / standard / math.sqrt(2.0))) for end in (low, high))
    shares = np.clip(below + (upto - below) * _strata(chance, count), 1e-12, 1.0 - 1e-12)
    return np.clip(value + standard * inverse_normal(shares), low, high), 1.0 - (upto - below)


_EACH_ERF: Final = np.frompyfunc(math.erf, 1, 1)


def _erf(x: Floats) -> Floats:
    return np.asarray(_EACH_ERF(x), dtype=float)


def likelihood(beside: Floats, off: Doubt, more: Floats | float = 0.0) -> Floats:
    """How likely a reading is that lies so far beside the truth, as a share of one that lies on it.

    beside [SI] (…) any; off [SI] (one) the reading's doubt; more [SI] (…) a standard uncertainty on top, normal → [1] (…)
    0 to 1. Raises nothing. Source: JCGM 101:2008 6.4.2 and 6.4.7, the product of two distributions by their integral.
    """
    if not off.even or off.amount_si == 0.0:
        spread = np.hypot(off.standard_si, more)
        exact = np.asarray(beside == 0.0, dtype=float)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(spread > 0.0, np.exp(-0.5 * (beside / spread) ** 2), exact)
    half = off.amount_si
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = math.sqrt(2.0) * np.asarray(more, dtype=float)
        soft = (_erf((beside + half) / scale) - _erf((beside - half) / scale)) / (2.0 * _erf(half / scale))
    return np.where(scale > 0.0, soft, np.asarray(np.abs(beside) <= half, dtype=float))


def correlated(chance: np.random.Generator, means: Floats, covariance: Floats, count: int) -> Floats:
    """Draws of a multivariate normal distribution.

    chance [-] (one) a stream; means [SI] (k,) any; covariance [SI] (k, k) symmetric, no negative direction; count [1]
    (one) 1 and more → [SI] (k, count) any. Raises ValueError where a direction has a negative variance. Source: JCGM
    101:2008 6.4.8.
    """
    values, vectors = np.linalg.eigh(covariance)
    if np.min(values) < -1e-12 * max(np.max(np.abs(values)), 1e-300):
        raise ValueError("a covariance has no negative direction")
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    result: Floats = means[:, None] + root @ chance.standard_normal((len(means), count))
    return result


def alike(weights: Floats, count: int) -> Places:
    """Which draws to look at so that each counts the same: one at every equal part of the whole weight.

    weights [1] (n,) 0 and more, not all 0; count [1] (one) 1 and more → [1] (count,) places, in order, some more than
    once. Raises nothing. Source: Kitagawa 1996 (systematic resampling).
    """
    heights = np.cumsum(weights)
    places: Places = np.searchsorted(heights, (np.arange(count) + 0.5) / count * heights[-1])
    return np.minimum(places, len(weights) - 1, out=places)


def _strata(chance: np.random.Generator, count: int) -> Floats:
    """One number in each of `count` equal parts of 0…1, shuffled; never 0 or 1 itself."""
    places = (chance.permutation(count) + chance.random(count)) / count
    return np.clip(places, 1e-12, 1.0 - 1e-12)


# Coefficients of Wichura's algorithm AS 241 (PPND16), Applied Statistics 37 (1988), 477–484; checked against SciPy.
_NEAR = (
    (3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3, 1.3731693765509461125e4,
     4.5921953931549871457e4, 6.7265770927008700853e4, 3.3430575583588128105e4, 2.5090809287301226727e3),
    (1.0, 4.2313330701600911252e1, 6.8718700749205790830e2, 5.3941960214247511077e3, 2.1213794301586595867e4,
     3.9307895800092710610e4, 2.8729085735721942674e4, 5.2264952788528545610e3),
)  # fmt: skip
_FAR = (
    (1.42343711074968357734e0, 4.63033784615654529590e0, 5.76949722146069140550e0, 3.64784832476320460504e0,
     1.27045825245236838258e0, 2.41780725177450611770e-1, 2.27238449892691845833e-2, 7.74545014278341407640e-4),
    (1.0, 2.05319162663775882187e0, 1.67638483018380384940e0, 6.89767334985100004550e-1, 1.48103976427480074590e-1,
     1.51986665636164571966e-2, 5.47593808499534494600e-4, 1.05075007164441684324e-9),
)  # fmt: skip
_FURTHEST = (
    (6.65790464350110377720e0, 5.46378491116411436990e0, 1.78482653991729133580e0, 2.96560571828504891230e-1,
     2.65321895265761230930e-2, 1.24266094738807843860e-3, 2.71155556874348757815e-5, 2.01033439929228813265e-7),
    (1.0, 5.99832206555887937690e-1, 1.36929880922735805310e-1, 1.48753612908506148525e-2, 7.86869131145613259100e-4,
     1.84631831751005468180e-5, 1.42151175831644588870e-7, 2.04426310338993978564e-15),
)  # fmt: skip


def inverse_normal(share: Floats) -> Floats:
    """The value below which this share of a standard normal distribution lies.

    share [1] (…) above 0 and below 1 → [1] (…). Raises nothing. Source: Wichura 1988, AS 241, to 1e-15.
    """
    from_half = share - 0.5
    near = np.abs(from_half) <= 0.425
    result = np.asarray(from_half * _ratio(_NEAR, 0.180625 - np.where(near, from_half, 0.0) ** 2))
    tails = ~near
    if tails.any():  # 15 in a hundred
        tail = np.sqrt(-np.log(np.minimum(share[tails], 1.0 - share[tails])))
        far = np.where(tail <= 5.0, _ratio(_FAR, tail - 1.6), _ratio(_FURTHEST, tail - 5.0))
        result[tails] = np.sign(from_half[tails]) * far
    return result


def _ratio(of: tuple[tuple[float, ...], tuple[float, ...]], at: Floats) -> Floats:
    above, below = (np.zeros_like(at) for _ in of)
    for a, b in zip(reversed(of[0]), reversed(of[1]), strict=True):
        above *= at
        above += a
        below *= at
        below += b
    above /= below
    return above
