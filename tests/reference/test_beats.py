"""Bursts of collision of two nearly equal clocks against closed forms.

Source: derived (D) from two periodic transmitters; the spacing is the textbook beat period. Periods
T1 and T2 meet every T1 T2/|T1 - T2| and stay in collision for (a + b)/|T1 - T2| frames. Nothing is
acknowledged, no jitter, clocks at +60 and -60 ppm (PS front page: +-60 ppm, S). Frames are counted
to the one that a whole number may be off; times follow from that."""

import numpy as np
import numpy.typing as npt
import pytest

from radiosim.trace import COLLISION, DEAF
from tests.reference.outside import CHANCE_OF_FAILURE, DERIVED, check, outside
from tests.reference.runs import UP_AT_ONCE, of_stream, run
from tests.reference.sources import FACTS


def bursts_of(
    profile: str,
    acknowledge: str,
    payload_bytes: int,
    periods_ms: tuple[float, float],
    span_s: float,
) -> list[tuple[float, float, int]]:
    """Start (s), length (s) and frames of each burst that the first transmitter goes through."""
    trace = run(f"""
duration_s = {span_s}
radio.profile = "{profile}"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.read = "all"
[transmitter.slow]
boot_s = 0
period_ms = {periods_ms[0]}
offset_ms = 1
payload_bytes = {payload_bytes}
clock_ppm = 60
acknowledge = {acknowledge}
[transmitter.fast]
boot_s = 0
period_ms = {periods_ms[1]}
offset_ms = 4
payload_bytes = {payload_bytes}
clock_ppm = -60
acknowledge = {acknowledge}
""")
    attempts = of_stream(trace.attempts, 0)
    hit = np.flatnonzero(attempts["fate"] == COLLISION)
    bursts = np.split(hit, np.flatnonzero(np.diff(hit) > 1) + 1) if len(hit) else []
    at_s = attempts["start_ns"] / 1e9
    return [
        (float(at_s[run[0]]), float(at_s[run[-1]] - at_s[run[0]] + periods_ms[0] / 1e3), len(run))
        for run in bursts
    ]


@outside(
    "frames in a burst of collisions, (a + b)/|T1 - T2|",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="frames",
)
@pytest.mark.parametrize(
    ("profile", "acknowledge", "frames", "seconds"),
    [
        ("gfsk-2M", '"flag"', 137.1, 2.742),  # the worked value: a + b = 329 us
        ("gfsk-1M", "false", 640 / 2.4, 640 / 2.4 * 0.02),
        ("gfsk-250k", "false", 2560 / 2.4, 2560 / 2.4 * 0.02),
    ],
)
def test_equal_periods_collide_for_a_plus_b_over_the_difference(
    profile: str, acknowledge: str, frames: float, seconds: float
) -> None:
    bursts = bursts_of(profile, acknowledge, 32, (20, 20), 60)
    _, length_s, length = bursts[0]

    check.near(length, frames, within=1)
    assert length_s == pytest.approx(seconds, abs=0.021)


@outside(
    "from one burst to the next, T1 T2/|T1 - T2|", source=FACTS.at("5"), status=DERIVED, unit="s"
)
@pytest.mark.parametrize("profile", ["gfsk-250k", "gfsk-1M", "gfsk-2M"])
@pytest.mark.parametrize("acknowledge", ["false", '"flag"'])
def test_spells_come_every_beat_period(profile: str, acknowledge: str) -> None:
    # 0.02 s x 0.02 s / 2.4 us = 166.7 s; each start is right to one frame.
    bursts = bursts_of(profile, acknowledge, 32, (20, 20), 380)
    starts_s = [start_s for start_s, _, _ in bursts]

    assert len(bursts) == 3
    for apart_s in np.diff(starts_s):
        check.near(apart_s, 0.02**2 / 2.4e-6, within=0.021)


@outside(
    "length of a burst at periods of 2:1 and 3:1, as of 1:1",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="s",
)
@pytest.mark.parametrize("periods_ms", [(20, 10), (40, 20), (60, 20)])
def test_a_whole_multiple_meets_as_long_as_equal_periods_do(
    periods_ms: tuple[float, float],
) -> None:
    # Both slip by 120 ppm of the time: 329 us take 2.742 s, to one frame of the slower transmitter.
    _, length_s, _ = bursts_of("gfsk-2M", '"flag"', 32, periods_ms, 40)[0]

    check.near(length_s, 2.742, within=periods_ms[0] / 1e3 + 0.001)


@outside(
    "longest burst at periods of 20:17 and 20:19, both ways round",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="frames",
)
@pytest.mark.parametrize("periods_ms", [(20, 17), (20, 19), (17, 20), (19, 20)])
def test_periods_far_from_a_multiple_lose_single_frames_only(
    periods_ms: tuple[float, float],
) -> None:
    bursts = bursts_of("gfsk-1M", "false", 32, periods_ms, 120)

    assert len(bursts) > 100
    check.same(max(frames for _, _, frames in bursts), 1)


Bools = npt.NDArray[np.bool_]


def met_beside_a_steady_one(dither_ms: float, span_s: float) -> Bools:
    """Which frames of a plain transmitter that dithers meet one of equal period, in order."""
    trace = run(
        f"""
duration_s = {span_s}
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver = {{ boot_s = 0, read = "all" }}
[transmitter.drawn]
dither_ms = {dither_ms}
[transmitter.steady]
offset_ms = 4
""".replace(
            "]\n",
            "]\nboot_s = 0\nperiod_ms = 5\npayload_bytes = 32\nclock_ppm = 0\n"
            "acknowledge = false\n",
        )
    )
    return of_stream(trace.attempts, 0)["fate"] == COLLISION


def runs_of(met: Bools) -> npt.NDArray[np.int_]:
    """How many in a row meet, run by run."""
    return np.diff(np.flatnonzero(np.diff(np.concatenate(([0], met, [0])))))[::2]


@outside(
    "share of meetings in a row of a dithered pair, (a + b)/2d; with d = T/2 of all, (a + b)/T",
    source=FACTS.at("5"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize("dither_ms", [0.64, 1.0, 2.5])
def test_meetings_of_a_dithered_pair_are_geometric(dither_ms: float) -> None:
    """From d = a + b on: whatever the phase of one that meets, the next meets by Bernoulli."""
    met = met_beside_a_steady_one(dither_ms, 100)
    lengths = runs_of(met)

    check.share(int((lengths >= 2).sum()), len(lengths), 0.64 / (2 * dither_ms))
    if dither_ms == 2.5:
        check.share(int(met.sum()), len(met), 0.64 / 5)


def longest_burst(
    acknowledge: str, multiple: int, apart_us: float, jitters_us: tuple[float, float] = (0, 0)
) -> int:
    """Most frames in a row that a 20 ms transmitter loses to another one.

    `multiple` periods of the other are `apart_us` longer than 20 ms.
    """
    trace = run(f"""
duration_s = 200
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = 0
receiver.boot_s = 0
receiver.read = "all"
[transmitter.mine]
boot_s = 0
period_ms = 20
offset_ms = 1
payload_bytes = 8
clock_ppm = 0
acknowledge = {acknowledge}
retry_limit = 0
jitter_ms = {jitters_us[0] / 1000}
[transmitter.other]
boot_s = 0
period_ms = {(20 + apart_us / 1000) / multiple}
offset_ms = 4
payload_bytes = 16
clock_ppm = 0
acknowledge = {acknowledge}
retry_limit = 0
jitter_ms = {jitters_us[1] / 1000}
""")
    lost = np.isin(of_stream(trace.attempts, 0)["fate"], (COLLISION, DEAF))
    turns = np.flatnonzero(np.diff(np.concatenate(([0], lost, [0]))))
    return int(np.diff(turns)[::2].max())


SPAN_US = {"false": 128 + 192, '"flag"': 137 + 201, "true": 137 + 201 + 2 * 130 + 73}
"""a + b at 1 Mbit/s, 8 and 16 bytes; acknowledged: and two settle times and 73 bits."""


@outside(
    "longest burst beyond the distance from a multiple (a + b, acknowledged + 2 settle + ack)",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="frames",
)
@pytest.mark.parametrize("acknowledge", SPAN_US)
@pytest.mark.parametrize("multiple", [1, 2, 3])
@pytest.mark.parametrize("side", [-1, 1])
def test_beyond_the_distance_from_a_multiple_only_single_frames_are_lost(
    acknowledge: str, multiple: int, side: int
) -> None:
    apart_us = side * (SPAN_US[acknowledge] + 0.13)

    check.same(longest_burst(acknowledge, multiple, apart_us), 1)


@outside(
    "longest burst at 0.93 of that distance",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="frames",
)
@pytest.mark.parametrize("acknowledge", SPAN_US)
@pytest.mark.parametrize("multiple", [1, 2, 3])
@pytest.mark.parametrize("side", [-1, 1])
def test_nearer_to_a_multiple_two_in_a_row_are_lost(
    acknowledge: str, multiple: int, side: int
) -> None:
    # Both fit into 0.07 of the span, which 10,000 frames on all phases do not miss.
    apart_us = side * (0.93 * SPAN_US[acknowledge] + 0.13)

    check.same(longest_burst(acknowledge, multiple, apart_us), 2)


@outside(
    "longest burst at a + b + the jitters of both",
    source=FACTS.at("5"),
    status=DERIVED,
    unit="frames",
)
@pytest.mark.parametrize("jitters_us", [(400, 0), (0, 400), (300, 900)])
def test_the_distance_that_it_takes_grows_by_the_jitters_of_both(
    jitters_us: tuple[float, float],
) -> None:
    enough_us = SPAN_US["false"] + sum(jitters_us)

    check.same(longest_burst("false", 1, enough_us + 0.13, jitters_us), 1)
    assert longest_burst("false", 1, enough_us - 0.5 * sum(jitters_us), jitters_us) > 1
