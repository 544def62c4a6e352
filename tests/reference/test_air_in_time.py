"""Fading, bursts and other people's bursts as they are simulated, against closed forms.

Sources: R. H. Clarke, BSTJ 47, 1968 (autocorrelation J₀; from memory); Gilbert and Elliott (facts
6, restated); J. G. Proakis (outage; from memory); N. Abramson, "The ALOHA system", AFIPS 37, 1970
(S = G e^(−2G); seen), where many transmitters together are a Poisson stream of bursts.
"""

import math

import numpy as np
import pytest
from scipy import special

from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import Rx, Tx
from radiosim.engine.rules.levels import begins_bad, faded, state_ns
from radiosim.engine.simulate import simulate
from radiosim.radio.bit_errors import correlation, share_bad
from radiosim.radio.propagation import rayleigh_outage, rician_outage
from radiosim.scenario import Scenario, parse
from radiosim.trace import ACKNOWLEDGED, NEW
from radiosim.units import db_to_ratio
from tests.reference.outside import (
    CHANCE_OF_FAILURE,
    DERIVED,
    FIVE_ERRORS,
    MEMORY,
    RESTATED,
    SEEN,
    check,
    outside,
)
from tests.reference.runs import UP_AT_ONCE
from tests.reference.sources import ALOHA, FACTS, GILBERT, PROAKIS, PROPAGATION

STARTS = 4000
SPEED_M_S = 3.0
DOPPLER_HZ = SPEED_M_S * 2.468e9 / 299_792_458
GOOD_MS, BAD_MS = 90.0, 30.0
BURST_US = 329.0


def scenario_with(*keys: str, acknowledge: str = "false") -> Scenario:
    """One transmitter of 32 bytes at 1 Mbit/s, near enough to lose nothing by itself."""
    text = f"""
radio.profile = "gfsk-1M"
duration_s = 1
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
[transmitter.drive]
boot_s = 0
period_ms = 20
payload_bytes = 32
acknowledge = {acknowledge}
retry_limit = 0
"""
    return parse(text, overrides=keys)


def fading(kind: str) -> Scenario:
    return scenario_with(
        f"air.range={{distance_m=5, fading='{kind}', rician_k_db=6, speed_m_s={SPEED_M_S}}}"
    )


def power(path: Tx, after_s: float) -> float:
    # Of a transmitter's row fading reads what a path tells.
    return faded(path, round(after_s * 1e9))  # type: ignore[arg-type]


@outside(
    "covariance of the power of simulated Rayleigh fading after some time, J₀² of 2π f_D τ",
    source=PROPAGATION.key,
    status=MEMORY,
    chance=FIVE_ERRORS,
)
@pytest.mark.parametrize("turns", [0.0, 0.15, 0.3, 0.6])
def test_fading_is_as_correlated_as_clarke_has_it(turns: float) -> None:
    s = fading("rayleigh")
    paths = [make_plan(s, start).tx[0] for start in range(STARTS)]
    pairs = [(power(path, 1.0), power(path, 1.0 + turns / DOPPLER_HZ)) for path in paths]

    products = [(before - 1) * (after - 1) for before, after in pairs]
    check.mean(products, float(special.j0(2 * math.pi * turns)) ** 2)


@outside(
    "share of starts in which simulated fading is 10 dB below its mean",
    source=f"{PROAKIS.key}; {FACTS.at('4')}",
    status=MEMORY,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize("kind", ["rayleigh", "rician"])
def test_fades_are_as_frequent_as_outage_has_it(kind: str) -> None:
    s = fading(kind)
    fades = sum(power(make_plan(s, start).tx[0], 1.0) < 0.1 for start in range(STARTS))

    outage = rayleigh_outage(10.0) if kind == "rayleigh" else rician_outage(10.0, db_to_ratio(6))
    check.share(fades, STARTS, outage)


@outside(
    "share of starts with simulated bursts bad at both of two instants",
    source=f"{GILBERT.key}; {FACTS.at('6')}",
    status=RESTATED,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize("apart_ms", [0.0, 10.0, 40.0, 200.0])
def test_spells_are_as_correlated_as_their_exponential(apart_ms: float) -> None:
    s = scenario_with(f"air.burst={{good_ms={GOOD_MS}, bad_ms={BAD_MS}}}")
    both = 0
    for start in range(STARTS):
        air = make_plan(s, start).rx
        both += is_bad(air, 100.0) and is_bad(air, 100.0 + apart_ms)

    bad = share_bad(GOOD_MS, BAD_MS)
    expected = bad * (bad + (1 - bad) * correlation(apart_ms, GOOD_MS, BAD_MS))
    check.share(both, STARTS, expected)


def is_bad(air: Rx, at_ms: float) -> bool:
    """Walks the bursts to an instant."""
    bad, burst, until_ns = begins_bad(air), 0, state_ns(air, 0, begins_bad(air))
    while until_ns <= at_ms * 1e6:
        burst, bad = burst + 1, not bad
        until_ns += state_ns(air, burst, bad)
    return bad


def delivered(s: Scenario, starts: int, fate: str = "attempts") -> list[float]:
    """Share of the frames that arrive at the first attempt, start by start."""
    found = []
    for start in range(starts):
        trace = simulate(s, start=start)
        is_good = (
            trace.attempts["fate"] == NEW
            if fate == "attempts"
            else trace.frames["outcome"] == ACKNOWLEDGED
        )
        found.append(float(np.mean(is_good)))
    return found


@outside(
    "frames that a simulated link delivers at the distance where 0.8 of them were measured",
    source=FACTS.at("4"),
    status=DERIVED,
    chance=FIVE_ERRORS,
)
@pytest.mark.parametrize("kind", ["none", "rayleigh", "rician"])
def test_a_measured_point_comes_out_of_the_simulation(kind: str) -> None:
    s = scenario_with(
        f"air.range={{distance_m=60, path='free-space', fading='{kind}', speed_m_s=20, "
        "anchor={distance_m=60, delivery=0.8}}",
        "transmitter.drive.period_ms=50",
        "duration_s=4",
    )

    check.mean(delivered(s, 60), 0.8)


def poisson(duty: float) -> str:
    """Many loud transmitters of frames as long as ours, together on the air for a share of the
    time."""
    return (
        "interferer.others={kind='bursts', channel_mhz=2468, width_mhz=1, "
        f"burst_ms={BURST_US / 1000}, duty={duty}, power_dbm_at_receiver=0}}"
    )


@outside(
    "frames among a Poisson stream of others, throughput S = G e^(−2G) over G",
    source=f"{ALOHA.key}; {FACTS.at('5')}",
    status=SEEN,
    chance=FIVE_ERRORS,
)
@pytest.mark.parametrize("load", [0.1, 0.5, 1.0])
def test_many_transmitters_follow_abramson(load: float) -> None:
    # At a load G somebody is on the air for 1 − e^(−G) of the time.
    control = BURST_US - 9
    s = scenario_with("air.range={distance_m=5}", poisson(-math.expm1(-load)))
    both_ways = load * (control + BURST_US) / BURST_US

    # The plain format has no control field: its frames are 9 us shorter.
    check.mean(delivered(s, 100), math.exp(-both_ways))


@outside(
    "the same with acknowledgements, which half duplex makes vulnerable too: b + a + settle + "
    "acknowledgement",
    source=f"{ALOHA.key}; {FACTS.at('5')}",
    status=DERIVED,
    chance=FIVE_ERRORS,
)
@pytest.mark.parametrize("load", [0.1, 0.5])
def test_acknowledgements_break_abramsons_formula(load: float) -> None:
    s = scenario_with("air.range={distance_m=5}", poisson(-math.expm1(-load)), acknowledge="true")
    vulnerable_us = BURST_US + 329 + 130 + 73

    expected = math.exp(-load * vulnerable_us / BURST_US)
    check.mean(delivered(s, 100, "frames"), expected)
