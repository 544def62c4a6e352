"""Quantiles that intervals take, the same to the last byte whatever is installed.

Libraries differ in their ninth digit from one version to the next. Source of the series:
M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions" (1964), 26.7.3 and 26.7.4
(Student's t), 6.5.29 (incomplete gamma), 6.1.41 (ln Γ), 26.4.17 (where to begin). Solved by
Newton's method: what is brought to zero rises and is concave (derived), so that from below each
step comes nearer, and from above the first leads below.
"""

import math
from functools import lru_cache

_DIGITS = 12
"""That are kept: machines differ in the last ones of a logarithm."""
_NEAR = 1e-14
"""Relative step, or part of a sum, that makes no difference any more."""
_USUAL = {0.025: -1.959963984540054, 0.975: 1.959963984540054}
"""Quantiles of the normal distribution that nearly all intervals take."""
_LARGE = 10.0
"""Shape from which on the series of ln Γ has fifteen digits."""
_STIRLING = (1 / 12, -1 / 360, 1 / 1260, -1 / 1680, 1 / 1188, -691 / 360360)


@lru_cache(maxsize=256)
def normal_quantile(share: float) -> float:
    """What a standard normal value is below with a chance of `share`, between 0 and 1."""
    if share in _USUAL:
        return _kept(_USUAL[share])
    from statistics import NormalDist  # noqa: PLC0415 - loads decimals and fractions

    return _kept(NormalDist().inv_cdf(share))


@lru_cache(maxsize=256)
def student_t_quantile(freedom: int, share: float) -> float:
    """What Student's t with so many degrees of freedom is below with a chance of `share` > ½."""
    within = 2 * share - 1
    if freedom == 1:
        return _kept(math.tan(math.pi / 2 * within))
    t, step = normal_quantile(share), 1.0
    while step > _NEAR * t:
        chance, slope = _student_t(freedom, t)
        step = (within - chance) / slope
        t += step
    return _kept(t)


def _student_t(freedom: int, t: float) -> tuple[float, float]:
    """Chance that Student's t is within ±t, and how fast it rises there; freedom ≥ 2."""
    is_odd, root = freedom % 2, math.sqrt(freedom + t * t)
    sine, cosine = t / root, math.sqrt(freedom) / root
    term = cosine if is_odd else 1.0
    terms = [term]
    for k in range(2 + is_odd, freedom - 1, 2):
        term *= cosine * cosine * (k - 1) / k
        terms.append(term)
    chance = sine * math.fsum(terms)
    slope = term * (freedom - 1) * cosine**3 / math.sqrt(freedom)
    if is_odd:
        part = 2 / math.pi
        return part * (math.atan2(t, math.sqrt(freedom)) + chance), part * slope
    return chance, slope


@lru_cache(maxsize=256)
def gamma_quantile(shape: float, share: float) -> float:
    """What a gamma variable of scale 1 is below with a chance of `share`; shape from 0.1 on."""
    wanted, ninth = math.log(share), 1 / (9 * shape)
    cube = max(0.1, 1 - ninth + normal_quantile(share) * math.sqrt(ninth))
    x = shape * cube**3

    def off() -> float:
        chance, slope = _gamma(shape, x)
        return (wanted - chance) / slope

    x *= math.exp(off())
    while (step := off()) > _NEAR:
        x *= math.exp(step)
    return _kept(x)


def gamma_chance(shape: float, x: float) -> float:
    """Chance that a gamma variable of scale 1 is below x; both above 0."""
    return math.exp(_gamma(shape, x)[0])


def _gamma(shape: float, x: float) -> tuple[float, float]:
    """Logarithm of the chance that a gamma variable is below x, and how it rises with that of x."""
    term = total = 1.0
    n = 0
    while term > _NEAR / 100 * total:
        n += 1
        term *= x / (shape + n)
        total += term
    if shape < _LARGE:
        first = shape * math.log(x) - x - math.lgamma(shape + 1)
    else:
        off = (x - shape) / shape
        rest = math.fsum(part / shape ** (2 * k + 1) for k, part in enumerate(_STIRLING))
        first = shape * (math.log1p(off) - off) - math.log(2 * math.pi * shape) / 2 - rest
    return first + math.log(total), shape / total


def _kept(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
