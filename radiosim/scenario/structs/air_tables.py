"""The `[air]` and `[interferer.NAME]` tables."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.edges import LONGEST_MS
from radiosim.number_kinds import LengthS, Metres, Share, TimeS
from radiosim.scenario.structs.range_tables import Range
from radiosim.scenario.structs.shared_keys import PayloadBytes, Table

_SpellMs = Annotated[float, Meta(ge=0.1, le=LONGEST_MS)]


class Burst(Table, frozen=True, kw_only=True):
    """Loss that comes in bursts (rule C3)."""

    good_ms: Annotated[
        _SpellMs,
        key(
            "mean length of a good burst",
            "ms",
            moves=("stream.gap_ms", "stream.failsafe.nuisance_trips"),
            measure=(
                "log which frame numbers arrive for an hour: mean length of the runs without loss"
            ),
        ),
    ]
    bad_ms: Annotated[
        _SpellMs,
        key(
            "mean length of a bad burst",
            "ms",
            moves=("stream.gap_ms", "stream.failsafe.nuisance_trips"),
            measure="the same log: mean length of the runs with loss",
        ),
    ]
    loss_good: Annotated[
        Share,
        key(
            "share of attempts lost in a good burst",
            moves=("stream.lost_chance", "stream.gap_ms"),
            measure="the same log: share lost outside the bad runs",
        ),
    ] = 0.0
    loss_bad: Annotated[
        Share,
        key(
            "share of attempts lost in a bad burst",
            moves=("stream.lost_chance", "stream.gap_ms"),
            measure="the same log: share lost inside the bad runs",
        ),
    ] = 1.0


class AirTable(Table, frozen=True, kw_only=True):
    """Chance loss on the air (rule C3)."""

    loss: Annotated[
        Share | None,
        key(
            "share of attempts lost by chance; left out: 0.02, or 0 beside range or burst",
            moves=(
                "stream.gap_ms",
                "stream.worst_second_updates",
                "stream.lost_chance",
                "stream.delivery_ratio",
                "stream.attempts_per_frame",
                "stream.failsafe.nuisance_trips",
            ),
            measure=(
                "one transmitter alone, acknowledgement off, a counter in the frame: share of "
                "numbers that never arrive, at your distance"
            ),
        ),
    ] = None
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
                "one transmitter alone, retries 0: share of the frames that arrive of which the "
                "transmitter hears no acknowledgement"
            ),
        ),
    ] = None
    burst: Annotated[
        Burst | None,
        key(
            "loss in bursts",
            moves=("stream.gap_ms", "stream.failsafe.nuisance_trips"),
            measure=(
                "log which frame numbers arrive for an hour, and look whether losses come in runs"
            ),
        ),
    ] = None
    range: Annotated[
        Range | None,
        key(
            "loss by distance",
            moves=("stream.lost_range", "stream.gap_ms"),
            measure="see its keys",
        ),
    ] = None
    between_transmitters_m: Annotated[
        Metres | None,
        key(
            "how far apart the transmitters are; left out: 1 m where levels count",
            "m",
            moves=("stream.acknowledgements_lost", "stream.lost_collision"),
            measure="measure it on the person who holds one and wears the other",
        ),
    ] = None


class Air(AirTable, frozen=True, kw_only=True):
    """The air after completion."""

    loss: Annotated[Share, key("share of attempts lost by chance")]
    acknowledge_loss: Annotated[Share, key("share of acknowledgements lost by chance")]


_BurstMs = Annotated[float, Meta(ge=0.01, le=LONGEST_MS)]
_Level = Annotated[float, Meta(ge=-200, le=30)]


class Interferer(Table, frozen=True, kw_only=True):
    """Something else that sends (rule C1)."""

    kind: Annotated[
        Literal["bursts", "transmitter", "jammer"],
        key(
            "bursts: a network; transmitter: the same kind of radio; jammer: never stops",
            moves=("stream.lost_collision", "stream.gap_ms"),
            measure="switch it off and see whether the losses go",
        ),
    ]
    channel_mhz: Annotated[
        Annotated[float, Meta(ge=1000, le=7000)],
        key(
            "its centre frequency",
            "MHz",
            moves=("stream.lost_collision",),
            measure=(
                "a network scan names its channel: n is at 2407 + 5 n MHz; a radio of the link's "
                "kind on channel n is at 2400 + n MHz"
            ),
        ),
    ]
    width_mhz: Annotated[
        Annotated[float, Meta(ge=0.1, le=500)] | None,
        key(
            "how wide it sends; left out: 20 with bursts, else as the link's own radios",
            "MHz",
            moves=("stream.lost_collision",),
            measure="a network scan names it; 20 is common",
        ),
    ] = None
    burst_ms: Annotated[
        _BurstMs,
        key(
            "with bursts: length of one",
            "ms",
            moves=("stream.lost_collision",),
            measure="listen on its channel with a radio in carrier detect and log the runs",
        ),
    ] = 1.0
    duty: Annotated[
        Annotated[float, Meta(ge=0, le=0.95)],
        key(
            "with bursts: share of the time that it sends, beacons apart",
            moves=("stream.lost_collision",),
            measure=(
                "listen on its channel with a radio in carrier detect: share of looks that "
                "find a carrier"
            ),
        ),
    ] = 0.1
    beacon_every_ms: Annotated[
        Annotated[float, Meta(ge=1, le=LONGEST_MS)] | None,
        key(
            "with bursts: from one beacon to the next; left out: it sends none",
            "ms",
            moves=("stream.lost_collision",),
            measure="102.4 for a house network whose owner changed nothing",
        ),
    ] = None
    beacon_ms: Annotated[
        _BurstMs,
        key(
            "with bursts: length of a beacon",
            "ms",
            moves=("stream.lost_collision",),
            measure="1.8 at the slowest rate, as most send it; 0.3 at 6 Mbit/s",
        ),
    ] = 1.8
    period_ms: Annotated[
        Annotated[float, Meta(ge=0.5, le=LONGEST_MS)],
        key(
            "with transmitter: from one frame to the next",
            "ms",
            moves=("stream.lost_collision",),
            measure="ask its owner; 20 is common",
        ),
    ] = 20.0
    payload_bytes: Annotated[
        PayloadBytes,
        key(
            "with transmitter: length of its frames",
            "bytes",
            moves=("stream.lost_collision",),
            measure="ask its owner; 32 is common",
        ),
    ] = 32
    acknowledge: Annotated[
        bool,
        key(
            "with transmitter: whether its own receiver acknowledges, as loud as itself",
            moves=("stream.lost_collision",),
            measure="ask its owner",
        ),
    ] = True
    power_dbm_at_receiver: Annotated[
        _Level,
        key(
            "its level at the receiver",
            "dBm",
            moves=("stream.lost_collision",),
            measure="a network scan on the vehicle names its level",
        ),
    ] = -70.0
    power_dbm_at_transmitters: Annotated[
        _Level | None,
        key(
            "its level at the transmitters, where acknowledgements are heard; left out: the same",
            "dBm",
            moves=("stream.acknowledgements_lost",),
            measure="a network scan where you stand",
        ),
    ] = None
    from_s: Annotated[
        TimeS,
        key(
            "when it is switched on",
            "s",
            moves=("stream.lost_collision",),
            measure="choose it: nothing to measure",
        ),
    ] = 0.0
    for_s: Annotated[
        LengthS | None,
        key(
            "how long it stays on; left out: for good",
            "s",
            moves=("stream.lost_collision",),
            measure="choose it: nothing to measure",
        ),
    ] = None
