"""Random scenarios in which several things are wrong at once."""

from hypothesis import strategies as st

from radiosim.errors import ScenarioError
from radiosim.scenario import Scenario, parse
from radiosim.scenario.edited import edited
from tests.findings.cases import BASE

RANGED = "air.range={distance_m=%d, path='free-space', fading='rician'}"
JAMMER = "{kind='bursts', channel_mhz=2468, duty=%g, power_dbm_at_receiver=-40}"
OTHER = "{kind='transmitter', channel_mhz=2468, period_ms=%d, payload_bytes=32, %s}"
ILLS: tuple[tuple[str, ...], ...] = (
    (
        "transmitter.head.period_ms=20",
        "transmitter.head.jitter_ms=0",
        "transmitter.drive.jitter_ms=0",
    ),
    (
        "transmitter.head.period_ms=20",
        "transmitter.head.clock_ppm=-100",
        "transmitter.head.drift={settle_ppm=200, settle_s=9}",
        "receiver.drift={from_c=-10, to_c=35, settle_s=6}",
        "transmitter.drive.clock_ppm=0",
    ),
    ("transmitter.head.period_ms=40", "transmitter.head.retry_delay_us=500"),
    ("transmitter.drive.acknowledge=false", "transmitter.head.acknowledge=false"),
    ("receiver.delay_ms=60",),
    ("receiver.delay_ms=299",),
    ("receiver.read=one", "receiver.loop_ms=25"),
    ("receiver.work=[{every_ms=120, takes_ms=70}]",),
    ("receiver.work=[{every_ms=90, takes_ms=1, longest_ms=80, stretched_share=0.3}]",),
    ("receiver.deaf=[{every_ms=50, for_ms=8}]",),
    ('failsafe.drive.watch_field=""',),
    ("failsafe.drive={timeout_ms=90}", "failsafe.head={timeout_ms=60}"),
    ("failsafe.drive.fed_by=any",),
    ("failsafe={}",),
    ("output={}",),
    ("transmitter.drive.signals.count={kind='constant'}", "transmitter.drive.retry_limit=0"),
    (
        "transmitter.head={layout='head_v1', pacing='after_send', pause_ms=0.5, "
        "power_dbm=20, recheck_ms=100, retry_delay_us=1750}",
        "transmitter.head.signals.count={kind='counter'}",
    ),
    ("transmitter.head.power_dbm=20", "transmitter.head.period_ms=4"),
    ("air.loss=0.3",),
    ("air.burst={good_ms=900, bad_ms=60}",),
    (RANGED % 120,),
    (RANGED % 3, f"interferer.hall={JAMMER % 0.3}"),
    (
        RANGED % 3,
        f"interferer.one={OTHER % (2, 'power_dbm_at_receiver=-40')}",
        f"interferer.two={OTHER % (3, 'power_dbm_at_receiver=-40')}",
    ),
    ("radio.payload_length=32",),
    ("radio.crc_bytes=1", "radio.noise_frames=true"),
    (
        RANGED % 12,
        "transmitter.head.antenna={pattern='half_wave_dipole', heading_field='pan'}",
        "transmitter.head.signals.pan={kind='lookaround'}",
        "receiver.antenna={pattern=[[0, 0], [140, -4], [180, -20]], turn_deg_s=25}",
    ),
    ("transmitter.drive.address=B4 69 D2 3C C5", "transmitter.head.address=B4 69 D2 3C C5"),
    ("transmitter.head.boot_s=3", 'fault=[{at_s=8, kind="reset", unit="head"}]'),
    ('fault=[{at_s=8, for_s=4, kind="power_off", unit="drive"}]',),
    (
        "output.motor.servo={travel_deg=90}",
        "output.motor.load={moving_ma=200, start_ma=650}",
        "receiver.supply={voltage_v=5, resistance_mohm=900, brownout_v=4.5}",
    ),
    (
        "transmitter.tilt={layout='head_v1', period_ms=20, retry_delay_us=500}",
        "transmitter.tilt.signals.count={kind='counter'}",
    ),
)
ASKED = (
    {"figure": "stream.drive.gap_ms.max", "at_most": 200},
    {"figure": "stream.head.delivery_ratio", "at_least": 0.8},
    {"figure": "stream.drive.failsafe.nuisance_trips", "at_most": 0},
    {"figure": "output.motor.latency_ms.p99", "at_most": 60},
)


@st.composite
def sick_texts(draw: st.DrawFn) -> str:
    """The text of a scenario with one to four ills, and perhaps requirements."""
    ills = draw(st.lists(st.sampled_from(ILLS), min_size=1, max_size=4, unique=True))
    text = BASE.replace("duration_s = 20", f"duration_s = 20\nseed = {draw(st.integers(0, 99))}")
    for ill in ills:
        text = with_lines(text, ill)
    for requirement in draw(st.lists(st.sampled_from(range(len(ASKED))), unique=True)):
        asked = ASKED[requirement]
        limit = next(key for key in asked if key != "figure")
        value = f"{{figure='{asked['figure']}', {limit}={asked[limit]}}}"
        text = with_lines(text, (f"requirement[{text.count('[[requirement]]')}]={value}",))
    return text


def with_lines(text: str, lines: tuple[str, ...]) -> str:
    """The text with lines set, as far as that makes a sound scenario."""
    changed = edited(text, lines)
    return changed if is_sound(changed) else text


def is_sound(text: str) -> bool:
    """Whether a scenario can be read."""
    return scenario_of(text) is not None


def scenario_of(text: str) -> Scenario | None:
    """The scenario of a text; None: it is refused."""
    try:
        return parse(text)
    except ScenarioError:
        return None
