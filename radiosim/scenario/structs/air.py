"""The `[air]` and `[interferer.NAME]` tables."""

from typing import Annotated, Literal

from radiosim.described import key
from radiosim.scenario.structs.amounts import Positive, Share, Table


class Burst(Table, frozen=True, kw_only=True):
    """Loss that comes in spells (rule C3)."""

    good_ms: Annotated[
        Positive,
        key(
            "mean length of a good spell",
            "ms",
            moves=("stream.hole_ms", "stream.failsafe.nuisance_trips"),
            measure=(
                "log which frame numbers arrive for an hour: mean length of the runs without loss"
            ),
        ),
    ]
    bad_ms: Annotated[
        Positive,
        key(
            "mean length of a bad spell",
            "ms",
            moves=("stream.hole_ms", "stream.failsafe.nuisance_trips"),
            measure="the same log: mean length of the runs with loss",
        ),
    ]
    loss_good: Annotated[
        Share,
        key(
            "share of attempts lost in a good spell",
            moves=("stream.lost_chance", "stream.hole_ms"),
            measure="the same log: share lost outside the bad runs",
        ),
    ] = 0.0
    loss_bad: Annotated[
        Share,
        key(
            "share of attempts lost in a bad spell",
            moves=("stream.lost_chance", "stream.hole_ms"),
            measure="the same log: share lost inside the bad runs",
        ),
    ] = 1.0


class Range(Table, frozen=True, kw_only=True):
    """Loss that follows from distance (rule C3)."""

    distance_m: Annotated[
        Positive,
        key(
            "from the transmitters to the receiver",
            "m",
            moves=("stream.lost_range", "stream.hole_ms"),
            measure="pace it out",
        ),
    ]
    path: Annotated[
        Literal["free-space", "two-ray", "log-distance"],
        key(
            "how the level falls with distance",
            moves=("stream.lost_range",),
            measure=(
                "open ground with low antennas is two-ray, free air free-space, houses and "
                "woods log-distance"
            ),
        ),
    ] = "two-ray"
    fading: Annotated[
        Literal["none", "rayleigh", "rician"],
        key(
            "how the level varies around that",
            moves=("stream.lost_range", "stream.hole_ms"),
            measure="in sight of each other rician, out of sight rayleigh",
        ),
    ] = "none"


class AirTable(Table, frozen=True, kw_only=True):
    """Chance loss on the air (rule C3)."""

    loss: Annotated[
        Share,
        key(
            "share of attempts lost by chance",
            moves=(
                "stream.gap_ms",
                "stream.worst_second_updates",
                "stream.lost_chance",
                "stream.delivery_ratio",
                "stream.attempts_per_frame",
                "stream.hole_ms",
                "stream.failsafe.nuisance_trips",
            ),
            measure=(
                "one sender alone, acknowledgement off, a counter in the frame: share of "
                "numbers that never arrive, at your distance"
            ),
        ),
    ] = 0.02
    acknowledge_loss: Annotated[
        Share | None,
        key(
            "share of acknowledgements lost by chance; left out: that of loss",
            moves=(
                "stream.acknowledgements_lost",
                "stream.duplicates",
                "stream.attempts_per_frame",
            ),
            measure=(
                "one sender alone, retries 0: share of the frames that arrive of which the "
                "sender hears no answer"
            ),
        ),
    ] = None
    burst: Annotated[
        Burst | None,
        key(
            "loss in spells",
            moves=("stream.hole_ms", "stream.failsafe.nuisance_trips"),
            measure=(
                "log which frame numbers arrive for an hour, and look whether losses come in runs"
            ),
        ),
    ] = None
    range: Annotated[
        Range | None,
        key(
            "loss by distance",
            moves=("stream.lost_range", "stream.hole_ms"),
            measure="see its keys",
        ),
    ] = None
    between_transmitters_m: Annotated[
        Positive | None,
        key(
            "how far apart the transmitters stand",
            "m",
            moves=("stream.acknowledgements_lost", "stream.lost_collision"),
            measure="measure it on the person who holds one and wears the other",
        ),
    ] = None


class Air(AirTable, frozen=True, kw_only=True):
    """The air after completion."""

    acknowledge_loss: Annotated[Share, key("share of acknowledgements lost by chance")]


class Interferer(Table, frozen=True, kw_only=True):
    """Something else that sends (rule C1)."""

    kind: Annotated[
        Literal["bursts", "transmitter", "jammer"],
        key(
            "bursts: a network; transmitter: the same kind of radio; jammer: always on",
            moves=("stream.lost_collision", "stream.hole_ms"),
            measure="switch it off and see whether the losses go",
        ),
    ]
    channel_mhz: Annotated[
        Positive | None,
        key(
            "its centre frequency",
            "MHz",
            moves=("stream.lost_collision",),
            measure="a network scan names its channel; channel n is at 2407 + 5 n MHz",
        ),
    ] = None
    width_mhz: Annotated[
        Positive,
        key(
            "how wide it sends",
            "MHz",
            moves=("stream.lost_collision",),
            measure="a network scan names it; 20 is common",
        ),
    ] = 1.0
    burst_ms: Annotated[
        Positive,
        key(
            "length of one burst",
            "ms",
            moves=("stream.lost_collision",),
            measure="listen on its channel with a radio in carrier detect and log the runs",
        ),
    ] = 1.0
    duty: Annotated[
        Share,
        key(
            "share of the time that it sends",
            moves=("stream.lost_collision",),
            measure=(
                "listen on its channel with a radio in carrier detect: share of looks that "
                "find a carrier"
            ),
        ),
    ] = 1.0
    power_dbm_at_receiver: Annotated[
        float,
        key(
            "its level at the receiver",
            "dBm",
            moves=("stream.lost_collision",),
            measure="a network scan on the vehicle names its level",
        ),
    ] = -70.0
