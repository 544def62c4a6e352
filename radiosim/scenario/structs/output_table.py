"""The `[output.NAME]` tables."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.described import key
from radiosim.number_kinds import PulseUs, TimeMs, TimeS, Value, WaitMs
from radiosim.safety import MAY_PINCH, STILL
from radiosim.scenario.structs.shared_keys import Drawn, Table
from radiosim.scenario.structs.supply_tables import Load

_RefreshHz = Annotated[float, Meta(ge=0.1, le=100_000)]
_Weight = Annotated[float, Meta(ge=-1_000_000, le=1_000_000)]
_Travel = Annotated[float, Meta(ge=0.001, le=36_000)]
_Seconds = Annotated[float, Meta(ge=0.001, le=1_000)]
_BandUs = Annotated[float, Meta(ge=0, le=1_000_000)]
_PulseRange = tuple[PulseUs, PulseUs]


class Preset(Table, frozen=True, kw_only=True):
    """The value that an output takes on failsafe; exactly one of the two."""

    preset_us: Annotated[
        PulseUs | None,
        key(
            "a pulse width, for a servo",
            "us",
            moves=("reaction.bound_ms",),
            measure=(
                "the pulse at which the vehicle stands still: turn the trim until it does, "
                "wheels up, propellers off"
            ),
        ),
    ] = None
    preset: Annotated[
        Value | None,
        key(
            "a value in the field's unit, for pwm and pin",
            moves=("reaction.bound_ms",),
            measure="the value at which the vehicle stands still, wheels up, propellers off",
        ),
    ] = None


class Servo(Table, frozen=True, kw_only=True):
    """How a servo follows its pulses (rule G4)."""

    travel_deg: Annotated[
        _Travel,
        key(
            "its whole travel",
            "deg",
            moves=("output.servo_error_deg",),
            measure=(
                "send the two end pulses, linkage off, and hold a protractor to the arm: "
                f"{MAY_PINCH}"
            ),
        ),
    ] = 180.0
    over_us: Annotated[
        _PulseRange,
        key(
            "pulses at which it stands at its two ends",
            "us",
            moves=("output.servo_error_deg",),
            measure=(
                "widen the pulse until the arm no longer moves, linkage off, and no further: "
                f"{MAY_PINCH}; small servos may take 500 to 2500 (common practice, no source)"
            ),
        ),
    ] = (
        500.0,
        2500.0,
    )
    seconds_per_60deg: Annotated[
        _Seconds,
        key(
            "how long it takes to turn by 60 degrees",
            "s",
            moves=("output.servo_error_deg",),
            measure=(
                "the servo's label at your voltage; or film a jump from end to end; 0.10 to"
                " 0.12 for small ones (common practice, no source)"
            ),
        ),
    ] = 0.12
    dead_band_us: Annotated[
        _BandUs,
        key(
            "change of pulse that it does not follow",
            "us",
            moves=("output.servo_error_deg",),
            measure=(
                "change the pulse step by step until the arm moves; 5 to 10 (common "
                "practice, no source)"
            ),
        ),
    ] = 5.0


class Motor(Table, frozen=True, kw_only=True):
    """How a motor behind a speed controller stops (rule G4)."""

    stop_s: Annotated[
        TimeS,
        key(
            "from the command to stand still until it does",
            "s",
            moves=("reaction.stopping_ms",),
            measure=(
                "command a stop at full speed, wheels up, propellers off, and then on the floor "
                "with a "
                "tether, and time it on film"
            ),
        ),
    ] = 0.0
    signal_loss_ms: Annotated[
        WaitMs,
        key(
            "how long its controller runs on without pulses",
            "ms",
            moves=("reaction.stopping_ms",),
            measure=(
                "pull the signal lead at low speed, wheels up, propellers off, and time until "
                "the motor stops"
            ),
        ),
    ] = 0.0
    idle_us: Annotated[
        PulseUs | None,
        key(
            "for a servo's pulses: that at which it stands still; nobody can guess it",
            "us",
            measure=(
                f"{STILL}: turn the trim until the motor stands still, and time the pulse; often "
                "1500 where the controller runs both ways, its lowest pulse where it runs one way, "
                "as of every propeller in the air (common practice, no source)"
            ),
        ),
    ] = None


class OutputTable(Table, frozen=True, kw_only=True):
    """One thing that the receiver drives (rule G)."""

    stream: Annotated[
        str,
        key(
            "the transmitter whose frames it follows",
            moves=("output.latency_ms", "output.age_ms"),
            measure="which transmitter's values the firmware writes to this pin",
        ),
    ]
    field: Annotated[
        str | None,
        key(
            "the field that it follows; or mix",
            moves=("output.servo_error_deg",),
            measure="which value the firmware writes to this pin",
        ),
    ] = None
    mix: Annotated[
        dict[str, _Weight] | None,
        key(
            "weight of each field that it follows",
            moves=("output.servo_error_deg",),
            measure="the sum that the firmware writes to this pin",
        ),
    ] = None
    value: Annotated[
        tuple[Value, Value] | None,
        key(
            "values at the two ends of pulse_us; left out: the range of its fields",
            moves=("output.servo_error_deg",),
            measure="the values that the firmware maps to the two end pulses",
        ),
    ] = None
    kind: Annotated[
        Literal["servo", "pwm", "pin"],
        key(
            "servo: pulses; pwm and pin: in effect when written",
            moves=("output.latency_ms", "output.update_rate_hz", "reaction.bound_ms"),
            measure=(
                "what hangs on the pin: a servo or a speed controller takes pulses, a "
                "bridge pwm, a lamp or relay a pin"
            ),
        ),
    ] = "servo"
    refresh_hz: Annotated[
        _RefreshHz,
        key(
            "pulses per second, for a servo",
            "Hz",
            moves=(
                "output.update_rate_hz",
                "output.latency_ms",
                "output.age_ms",
                "reaction.bound_ms",
            ),
            measure=(
                "time two pulses on the pin with a logic analyser; 50 a second is usual "
                "(common practice, no source)"
            ),
        ),
    ] = 50.0
    phase_ms: Annotated[
        Drawn | TimeMs,
        key(
            "first pulse after boot; drawn: anew each start",
            "ms",
            moves=("output.latency_ms",),
            measure="leave it drawn: it does not hold still against the transmitters",
        ),
    ] = "drawn"
    pulse_us: Annotated[
        _PulseRange,
        key(
            "pulses at the lowest and the highest value; may be reversed",
            "us",
            moves=("output.servo_error_deg", "reaction.bound_ms"),
            measure=(
                "hold the stick at each end and time the pulse; 1000 to 2000 is usual "
                f"(common practice, no source); mind the linkage: {MAY_PINCH}"
            ),
        ),
    ] = (1000.0, 2000.0)
    limit_us: Annotated[
        _PulseRange | None,
        key(
            "pulses are kept inside these two; left out: those of pulse_us",
            "us",
            moves=("output.servo_error_deg",),
            measure=(
                "widen the pulse step by step until the linkage meets its stop, and stay well "
                f"inside: {MAY_PINCH}"
            ),
        ),
    ] = None
    smoothing_us_per_pass: Annotated[
        _BandUs,
        key(
            "most that a pulse changes in one pass; 0: at once",
            "us",
            moves=("output.servo_error_deg",),
            measure="read the ramp in the firmware: its step and how often it is taken",
        ),
    ] = 0.0
    at_start: Annotated[
        Literal["none"] | Value,
        key(
            "until the first frame: none, a servo's pulse in us, else a value",
            moves=("output.longest_hold_ms", "output.age_ms"),
            measure="switch the receiver on alone, wheels up, propellers off, and look at the pin",
        ),
    ] = "none"
    on_failsafe: Annotated[
        Literal["hold", "off"] | Preset,
        key(
            "hold: the last value; off: no pulses, or pin off; or a preset",
            moves=("reaction.bound_ms", "faults.reaction_ms", "output.longest_hold_ms"),
            measure="switch the transmitter off, wheels up, propellers off, and look at the pin",
        ),
    ] = "hold"
    servo: Annotated[
        Servo | None,
        key(
            "the servo that it drives",
            moves=("output.servo_error_deg",),
            measure="the servo's label and a protractor",
        ),
    ] = None
    motor: Annotated[
        Motor | None,
        key("the motor that it drives", moves=("reaction.stopping_ms",), measure="see its keys"),
    ] = None
    load: Annotated[
        Load | None,
        key(
            "what it draws from the receiver's supply; left out: nothing",
            moves=("receiver.brownouts",),
            measure="see its keys",
        ),
    ] = None


class Output(OutputTable, frozen=True, kw_only=True):
    """An output after completion: mix, value and limits are set (a lone field has weight 1)."""

    mix: Annotated[dict[str, _Weight], key("weight of each field that it follows")]
    value: Annotated[tuple[Value, Value], key("values at the two ends of pulse_us")]
    limit_us: Annotated[_PulseRange, key("pulses are kept inside these two", "us")]
