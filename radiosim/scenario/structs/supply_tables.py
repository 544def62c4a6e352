"""The tables `receiver.supply` and `output.NAME.load`: what may bring the receiver down."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.safety import STILL
from radiosim.scenario.structs.shared_keys import Milliamperes, Table

MOST_LOADS = 32
"""Outputs that one supply can feed."""
_Volts = Annotated[float, Meta(ge=0.1, le=100)]
_Milliohms = Annotated[float, Meta(ge=0, le=1_000_000)]
_Microfarads = Annotated[float, Meta(ge=0, le=100_000_000)]
_Millivolts = Annotated[float, Meta(ge=0, le=10_000)]
_StartMs = Annotated[float, Meta(ge=0, le=10_000)]


class Supply(Table, frozen=True, kw_only=True):
    """What feeds the receiver, and what it takes to bring the receiver down (rule E4)."""

    voltage_v: Annotated[
        _Volts,
        key(
            "its voltage with nothing on it",
            "V",
            moves=("receiver.brownouts",),
            measure="a voltmeter at the receiver's board, servos and motors unplugged",
        ),
    ]
    resistance_mohm: Annotated[
        _Milliohms,
        key(
            "its resistance as the board sees it: cells, leads, switch and regulator",
            "mOhm",
            moves=("receiver.brownouts",),
            measure=("a voltmeter at the board: how far it falls with a known load of 1 A, in mV"),
        ),
    ]
    brownout_v: Annotated[
        _Volts,
        key(
            "under this voltage at the board the program is held in reset",
            "V",
            moves=("receiver.brownouts",),
            measure=(
                "the brown-out level in the chip's fuses or set-up, plus what a regulator before "
                "it needs; or turn a bench supply down until it resets"
            ),
        ),
    ]
    hysteresis_mv: Annotated[
        _Millivolts,
        key(
            "how far above that level it must rise before the program boots",
            "mV",
            moves=("receiver.brownouts", "faults.recovered_ms"),
            measure="the brown-out detector's hysteresis in the chip's data sheet",
        ),
    ] = 50.0
    capacitance_uf: Annotated[
        _Microfarads,
        key(
            "the capacitor across it at the board, which carries short dips",
            "uF",
            moves=("receiver.brownouts",),
            measure="the print on the capacitor, less a fifth (common practice, no source)",
        ),
    ] = 0.0


class Load(Table, frozen=True, kw_only=True):
    """What the thing that an output drives draws (rule G5)."""

    supply: Annotated[
        Literal["receiver", "own"],
        key(
            "what feeds it: the receiver's supply, or one of its own",
            moves=("receiver.brownouts",),
            measure="follow its red lead",
        ),
    ] = "receiver"
    rest_ma: Annotated[
        Milliamperes,
        key(
            "what it draws while it stands still",
            "mA",
            moves=("receiver.brownouts",),
            measure=f"{STILL}: a current meter in its lead, nothing moving",
        ),
    ] = 0.0
    moving_ma: Annotated[
        Milliamperes,
        key(
            "what it draws while a servo turns, or a motor runs at full value",
            "mA",
            moves=("receiver.brownouts",),
            measure=(
                f"{STILL}: a current meter in its lead while it turns from end to end; 100 to 300 "
                "for a 9 g servo without load (common practice, no source)"
            ),
        ),
    ]
    start_ma: Annotated[
        Milliamperes | None,
        key(
            "what it draws as it starts or turns round; left out: as while it moves",
            "mA",
            moves=("receiver.brownouts",),
            measure=(
                f"{STILL}: an oscilloscope over 0.1 Ohm in its lead; it is the current when "
                "stalled: 600 to 800 for a 9 g servo (common practice, no source)"
            ),
        ),
    ] = None
    start_ms: Annotated[
        _StartMs,
        key(
            "how long it draws that",
            "ms",
            moves=("receiver.brownouts",),
            measure=(
                f"{STILL}: the same oscilloscope; 10 to 50 for a small motor (common practice, no "
                "source)"
            ),
        ),
    ] = 20.0
