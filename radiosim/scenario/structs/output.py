"""The `[output.NAME]` tables."""

from typing import Annotated, Literal

from msgspec import Meta

from radiosim.scenario.structs.amounts import Drawn, NotNegative, Positive, Table, key

_PulseUs = Annotated[float, Meta(gt=0, le=1_000_000)]
_RefreshHz = Annotated[float, Meta(ge=0.1, le=100_000)]
_PulseRange = tuple[_PulseUs, _PulseUs]


class Preset(Table, frozen=True, kw_only=True):
    """The value that an output takes on failsafe; exactly one of the two."""

    preset_us: Annotated[_PulseUs | None, key("a pulse width, for a servo", "us")] = None
    preset: Annotated[float | None, key("a value in the field's unit, for pwm and pin")] = None


class Servo(Table, frozen=True, kw_only=True):
    """How a servo follows its pulses (rule G4)."""

    travel_deg: Annotated[Positive, key("its whole travel", "deg")] = 180.0
    over_us: Annotated[_PulseRange, key("pulses at the two ends of its travel", "us")] = (
        500.0,
        2500.0,
    )
    seconds_per_60deg: Annotated[Positive, key("how long it takes to turn by 60 degrees", "s")] = (
        0.12
    )
    dead_band_us: Annotated[NotNegative, key("change of pulse that it does not follow", "us")] = 5.0


class Motor(Table, frozen=True, kw_only=True):
    """How a motor behind a speed controller stops (rule G4)."""

    stop_s: Annotated[NotNegative, key("from the command to stand still until it does", "s")] = 0.0
    signal_loss_ms: Annotated[
        NotNegative, key("how long its controller runs on without pulses", "ms")
    ] = 0.0


class OutputTable(Table, frozen=True, kw_only=True):
    """One thing that the receiver drives (rule G)."""

    stream: Annotated[str, key("the transmitter whose frames it follows")]
    field: Annotated[str | None, key("the field that it follows; or mix")] = None
    mix: Annotated[dict[str, float] | None, key("weight of each field that it follows")] = None
    value: Annotated[
        tuple[float, float] | None,
        key("values at the two ends of pulse_us; left out: the range of its fields"),
    ] = None
    kind: Annotated[
        Literal["servo", "pwm", "pin"], key("servo: pulses; pwm and pin: in effect when written")
    ] = "servo"
    refresh_hz: Annotated[_RefreshHz, key("pulses per second, for a servo", "Hz")] = 50.0
    phase_ms: Annotated[
        Drawn | NotNegative, key("first pulse after boot; drawn: anew each start", "ms")
    ] = "drawn"
    pulse_us: Annotated[
        _PulseRange, key("pulses at the lowest and the highest value; may be reversed", "us")
    ] = (1000.0, 2000.0)
    limit_us: Annotated[
        _PulseRange | None,
        key("pulses are kept inside these two; left out: those of pulse_us", "us"),
    ] = None
    smoothing_us_per_pass: Annotated[
        NotNegative, key("most that a pulse changes in one pass; 0: at once", "us")
    ] = 0.0
    at_start: Annotated[
        Literal["none"] | float,
        key("until the first frame: none, a servo's pulse in us, else a value"),
    ] = "none"
    on_failsafe: Annotated[
        Literal["hold", "off"] | Preset,
        key("hold: the last value; off: no pulses, or pin off; or a preset"),
    ] = "hold"
    servo: Annotated[Servo | None, key("the servo that it drives")] = None
    motor: Annotated[Motor | None, key("the motor that it drives")] = None


class Output(OutputTable, frozen=True, kw_only=True):
    """An output after completion: mix, value and limits are set (a lone field has weight 1)."""

    mix: Annotated[dict[str, float], key("weight of each field that it follows")]
    value: Annotated[tuple[float, float], key("values at the two ends of pulse_us")]
    limit_us: Annotated[_PulseRange, key("pulses are kept inside these two", "us")]
