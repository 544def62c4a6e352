"""The `[air]` and `[interferer.NAME]` tables."""

from typing import Annotated, Literal

from radiosim.scenario.structs.amounts import Positive, Share, Table, key


class Burst(Table, frozen=True, kw_only=True):
    """Loss that comes in spells (rule C3)."""

    good_ms: Annotated[Positive, key("mean length of a good spell", "ms")]
    bad_ms: Annotated[Positive, key("mean length of a bad spell", "ms")]
    loss_good: Annotated[Share, key("share of attempts lost in a good spell")] = 0.0
    loss_bad: Annotated[Share, key("share of attempts lost in a bad spell")] = 1.0


class Range(Table, frozen=True, kw_only=True):
    """Loss that follows from distance (rule C3)."""

    distance_m: Annotated[Positive, key("from the transmitters to the receiver", "m")]
    path: Annotated[
        Literal["free-space", "two-ray", "log-distance"], key("how the level falls with distance")
    ] = "two-ray"
    fading: Annotated[
        Literal["none", "rayleigh", "rician"], key("how the level varies around that")
    ] = "none"


class AirTable(Table, frozen=True, kw_only=True):
    """Chance loss on the air (rule C3)."""

    loss: Annotated[Share, key("share of attempts lost by chance")] = 0.02
    acknowledge_loss: Annotated[
        Share | None, key("share of acknowledgements lost by chance; left out: that of loss")
    ] = None
    burst: Annotated[Burst | None, key("loss in spells")] = None
    range: Annotated[Range | None, key("loss by distance")] = None
    between_transmitters_m: Annotated[
        Positive | None, key("how far apart the transmitters stand", "m")
    ] = None


class Air(AirTable, frozen=True, kw_only=True):
    """The air after completion."""

    acknowledge_loss: Annotated[Share, key("share of acknowledgements lost by chance")]


class Interferer(Table, frozen=True, kw_only=True):
    """Something else that sends (rule C1)."""

    kind: Annotated[
        Literal["bursts", "transmitter", "jammer"],
        key("bursts: a network; transmitter: the same kind of radio; jammer: always on"),
    ]
    channel_mhz: Annotated[Positive | None, key("its centre frequency", "MHz")] = None
    width_mhz: Annotated[Positive, key("how wide it sends", "MHz")] = 1.0
    burst_ms: Annotated[Positive, key("length of one burst", "ms")] = 1.0
    duty: Annotated[Share, key("share of the time that it sends")] = 1.0
    power_dbm_at_receiver: Annotated[float, key("its level at the receiver", "dBm")] = -70.0
