"""What the rules read: one start of a scenario in whole numbers.

Every span is in ns and already scaled by its unit's clock, unless a rule scales it from the
start of its grid (`ppb` is then at hand).
"""

from typing import NamedTuple

from radiosim.registers.fault_kind import PROGRAM, QUIET_AIR, RADIO, RANGE, VALUES, Part

PLAIN, FLAGGED, ACKNOWLEDGING = range(3)
"""acknowledge = false, "flag", true (rule B2)."""
SKIP, WAIT, QUEUE, REPLACE = range(4)
"""when_busy (rule A6)."""
ONE, ALL, NEWEST = range(3)
"""read (rule E1)."""


class Work(NamedTuple):
    """A thing that holds a program or its radio up now and then, on a grid from its start."""

    offset_ns: int
    every_ns: int
    takes_ns: int
    """How long it takes where it is not stretched."""
    interrupts_off: int
    longest_ns: int
    """How long it can take; as `takes_ns` where its length is not random."""
    stretched_53: int = 0
    """Chance that it is stretched, in 2⁻⁵³."""
    key_low: int = 0
    key_high: int = 0


MOST_POINTS, MOST_EMITTERS = 250, 16
"""Points of one track, and emitters, that the records of compiled code have room for."""
POISSON, GRID, STEADY = range(3)
"""How an emitter sends: bursts at random instants; spans on a grid; without a break."""


class Wave(NamedTuple):
    """One of the waves of which a fading level is the sum (see radio/propagation.py)."""

    turns_64: int
    """Turns a nanosecond, in 2⁻⁶⁴."""
    phase_64: int
    cosine: float
    """Amplitude of the part in phase."""
    sine: float


class Point(NamedTuple):
    """A point of a track: a distance in m, or a heading in degrees."""

    at_ns: int
    value: float


MOST_ANGLES, MOST_MOTION = 72, 6
"""Angles of a pattern, and numbers of a motion, that the records have room for."""
TURNED, SWUNG, LOOKED, STEPPED, FOLLOWED = range(5)
"""How a heading changes: evenly; as a sine; as a head that looks round; in steps; on a track."""


class Gain(NamedTuple):
    """What an antenna gives towards one angle, clockwise from ahead."""

    deg: float
    db: float


class Antenna(NamedTuple):
    """A pattern, and how what carries it turns (rule C6)."""

    angles: int = 0
    """0: it gives the same all round, and nothing else here counts."""
    gain: tuple[Gain, ...] = ()
    rotation_deg: float = 0.0
    """How far it is turned on its carrier, clockwise."""
    turning: int = TURNED
    motion: tuple[float, ...] = ()
    """TURNED: heading at zero and degrees a second; STEPPED: how long each is held, ns; FOLLOWED:
    1 if it begins again; else the numbers of the signal's rule."""
    scale: float = 1.0
    """Degrees that one unit of the signal stands for."""
    headings: int = 0
    heading: tuple[Point, ...] = ()
    best_db: float = 0.0
    """In its best direction; for closed forms, as are the other two."""
    mean_db: float = 0.0
    """Over the headings that come up."""
    worst_db: float = 0.0


class Drift(NamedTuple):
    """How a clock's error moves after it is switched on, as shares of a span (rule T7)."""

    drifts: int = 0
    """0: it does not, and nothing else here counts."""
    from_ns: int = 0
    """When it is switched on."""
    steady: float = 0.0
    slope: float = 0.0
    """A nanosecond, until `line_ns` after it is switched on."""
    line_ns: float = 0.0
    settle_ns: float = 0.0
    first: float = 0.0
    """Of e^(−t/settle); the other two of its square and its cube."""
    second: float = 0.0
    third: float = 0.0
    mean_ppb: int = 0
    """Over the start; for closed forms, as is the other."""
    most_ppb: float = 0.0
    """How far from that mean it comes."""


class Emitter(NamedTuple):
    """Something from outside the link that sends (rule C1); levels as the link's radios weigh
    them beside a signal of their own (rule C2)."""

    kind: int
    from_ns: int
    until_ns: int
    at_receiver_mw: float
    at_transmitters_mw: float
    burst_ns: int
    offset_ns: int
    """Offset of the emitter's grid from zero."""
    every_ns: int
    """Of its grid; with POISSON the length of a cell in which bursts are drawn."""
    ppb: int
    mean: float
    """POISSON: bursts in a cell, on average."""
    none: float
    """Share of the cells without any."""
    key_low: int
    key_high: int


class Tx(NamedTuple):
    """A transmitter."""

    pacing: int
    offset_ns: int
    period_ns: int
    """Time between samples; the pause with pacing = "after_send". Not scaled by `ppb`."""
    ppb: int
    jitter_ns: int
    dither_ns: int
    """How far each period is drawn longer or shorter, not scaled by `ppb`."""
    loop_ns: int
    prepare_ns: int
    acknowledge: int
    when_busy: int
    flush_on_retries_used_up: int
    start_held: int
    fifo_frames: int
    upload_ns: int
    settle_ns: int
    frame_ns: int
    address_ns: int
    """From a frame's start to the end of its address."""
    noise_ns: int
    """How long noise lasts that passes for one of its frames: address to CRC (rule D6)."""
    ack_ns: int
    ack_address_ns: int
    window_ns: int
    interrupt_ns: int
    retry_ns: int
    """From the end of an attempt to the start of the next on the air."""
    retry_limit: int
    loss_53: int
    ack_loss_53: int
    """Of chance alone, while the air has a good burst or no bursts."""
    bad_loss_53: int
    bad_ack_loss_53: int
    """Chance that an acknowledgement is lost in a bad burst, in 2⁻⁵³."""
    power_mw: float
    path: int
    """How its level falls with distance (radio/propagation.py)."""
    frequency_mhz: float
    height_m: float
    beyond_m: float
    """Height of the antenna at the other end."""
    exponent: float
    gain_db: float
    """Gain of both antennas, and what a measured point adds."""
    fixed_db: float
    """Gain of the path, antennas included, where it does not change: points = 0."""
    points: int
    track: tuple[Point, ...]
    shadow_db: float
    """Standard deviation of the shadowing."""
    shadow_ns: int
    """Step in which it is drawn."""
    shadow_kept: float
    """Correlation from one step to the next."""
    waves: int
    wave: tuple[Wave, ...]
    antenna: Antenna
    drift: Drift
    address_of: int
    """The first transmitter in file order that has the same address; often itself."""
    memory: int
    """Which packet memory of the receiver its frames meet (rule D3)."""
    reading_ns: int
    """What the receiver's program takes to read one of its frames, and to unpack it."""
    key_low: int
    key_high: int
    branch: int
    """Which of the futures of a copied world; 0: the one that ran."""
    works: int
    work: tuple[Work, ...]


class Rx(NamedTuple):
    """The receiver."""

    ppb: int
    pass_ns: int
    """One idle pass: loop_ms + delay_ms."""
    read: int
    interrupt: int
    fifo_frames: int
    acknowledge_when_full: int
    settle_ns: int
    interrupt_ns: int
    cochannel_ratio: float
    power_mw: float
    weighs: int
    """1: levels are known, and errors follow from them; 0: all are equally far (rule C2)."""
    noise_mw: float
    """What noise amounts to at every radio's detector."""
    strongest_mw: float
    """A stronger signal drowns in itself."""
    own_weight: float
    """How much a signal of the link's own kind weighs beside another."""
    beside_gain: float
    """Gain of the path between two transmitters."""
    bits_per_ns: float
    good_ns: float
    """Mean length of the air's good bursts; 0: it has none of either."""
    bad_ns: float
    air_low: int
    air_high: int
    """Key of what the air draws."""
    emitters: int
    emitter: tuple[Emitter, ...]
    antenna: Antenna
    drift: Drift
    works: int
    work: tuple[Work, ...]
    deafs: int
    deaf: tuple[Work, ...]
    tick_ns: int = 0
    """A step of the clock that its program reads, not scaled by `ppb`; 0: none."""
    deaf_in_boot: int = 0
    """The radio stops listening while the program is down."""


class StepKind(NamedTuple):
    """A kind of step: what faults and boots come down to (see timeline.py)."""

    name: str
    part: Part | None
    """What of a unit it makes well, or takes away; None: neither."""
    is_well: bool


STEPS = (
    StepKind("program starts", PROGRAM, True),
    StepKind("program stops", PROGRAM, False),
    StepKind("program pauses", PROGRAM, False),
    StepKind("program resumes", PROGRAM, True),
    StepKind("radio starts", RADIO, True),
    StepKind("radio stops", RADIO, False),
    StepKind("fifo emptied", None, True),
    StepKind("values freeze", VALUES, False),
    StepKind("values thaw", VALUES, True),
    StepKind("goes out of range", RANGE, False),
    StepKind("comes into range", RANGE, True),
    StepKind("jam begins", QUIET_AIR, False),
    StepKind("jam ends", QUIET_AIR, True),
    StepKind("noise passes for a frame", None, True),
)
NOT_WELL_AT_FIRST = (PROGRAM, RADIO)
"""Parts of a unit that are well from its first boot on; the others are from the beginning."""
(
    PROGRAM_STARTS,
    PROGRAM_STOPS,
    PROGRAM_PAUSES,
    PROGRAM_RESUMES,
    RADIO_STARTS,
    RADIO_STOPS,
    FIFO_EMPTIED,
    VALUES_STALE,
    VALUES_FRESH,
    GOES_AWAY,
    COMES_BACK,
    JAM_BEGINS,
    JAM_ENDS,
    NOISE_PASSES,
) = range(len(STEPS))


class Step(NamedTuple):
    """One thing that happens to one unit from outside; the receiver is unit n, the air n + 1."""

    at_ns: int
    unit: int
    kind: int
    stream: int = 0
    """NOISE_PASSES: the first transmitter whose address the noise has."""
    frame: int = 0
    """NOISE_PASSES: its number, counted down from `FIRST_NOISE` (trace.py)."""
    asks: int = 0
    """NOISE_PASSES: 1: its control field asks for an acknowledgement."""
