"""The `[air]` table."""

from typing import Annotated

from msgspec import Meta

from radiosim.described import key
from radiosim.scenario.structs.amounts import Positive, Share, Table
from radiosim.scenario.structs.range import Range

_SpellMs = Annotated[float, Meta(ge=0.1)]


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
                "transmitter hears no answer"
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
        Positive | None,
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
