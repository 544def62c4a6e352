"""Every finding: a scene that shows it with proof and cure, and a twin in which it is silent."""

import pytest

from radiosim.findings.case import Case
from radiosim.findings.drills import drill
from radiosim.scenario.changed import changed
from radiosim.study.starts import simulate_starts
from tests.findings.cases import found, scene

MEETS = ("transmitter.look.period_ms=20", "transmitter.drive.clock_ppm=9")
STILL = (
    'transmitter.drive.signals.count={kind="constant"}',
    'transmitter.drive.signals.throttle={kind="constant", value=0.0}',
    "transmitter.drive.retry_limit=0",
    "air.loss=0.25",
    'failsafe.drive.watch_field=""',
    "failsafe.drive.timeout_ms=90",
    "duration_s=200",
)
PLAIN = ("transmitter.drive.acknowledge=false", "transmitter.look.acknowledge=false")
HEAVY = (
    "transmitter.look={layout='look_v1', pacing='after_send', pause_ms=0.5, acknowledge=false}",
    "transmitter.drive.acknowledge=false",
    "radio.profile=gfsk-250k",
)

SHOWN = [
    ("failsafe.drive.timeout_ms", ("receiver.delay_ms=299",), ("receiver.delay_ms=40",)),
    ("failsafe.drive.fed_by", ("failsafe.drive.fed_by=any", 'failsafe.drive.watch_field=""'), ()),
    ("failsafe.look", ("failsafe={}",), ()),
    (
        "failsafe.drive.resume_needs",
        ('failsafe.drive={timeout_ms=250, watch_field="count"}',),
        (),
    ),
    (
        "transmitter.look.period_ms",
        (
            *MEETS,
            *PLAIN,
            "transmitter.look.clock_ppm=-9",
            "transmitter.drive.jitter_ms=0",
            "transmitter.look.jitter_ms=0",
        ),
        ("transmitter.look.period_ms=19",),
    ),
    (
        "transmitter.look.retry_delay_us",
        (
            *MEETS,
            "transmitter.look.retry_delay_us=500",
            "transmitter.drive.jitter_ms=0",
            "transmitter.look.jitter_ms=0",
        ),
        (*MEETS, "transmitter.look.retry_delay_us=1500"),
    ),
    ("receiver.delay_ms", ("receiver.delay_ms=30",), ("receiver.delay_ms=0.5",)),
    (
        "receiver.read",
        ("receiver.read=one", "receiver.pass_ms=12"),
        ("receiver.read=one",),
    ),
    (
        "receiver.work",
        ("receiver.work=[{every_ms=60, takes_ms=25}]",),
        ("receiver.work=[{every_ms=1000, takes_ms=0.5}]",),
    ),
    (
        "transmitter.look.work",
        ("transmitter.look.work=[{every_ms=50, takes_ms=20}]",),
        ("transmitter.look.work=[{every_ms=1000, takes_ms=0.2}]",),
    ),
    (
        "receiver.deaf",
        ("receiver.deaf=[{every_ms=50, for_ms=8}]",),
        (),
    ),
    ("layout.drive_v1", STILL, STILL[1:]),
    ("transmitter.look", HEAVY, ("radio.profile=gfsk-250k", *PLAIN)),
    (
        "transmitter.look.boot_s",
        ("transmitter.look.boot_s=3", 'fault=[{at_s=8, kind="reset", unit="look"}]'),
        ("transmitter.look.boot_s=3",),
    ),
    ("failsafe.drive.watch_field", ('failsafe.drive.watch_field=""',), ()),
    ("radio.payload_length", ("radio.payload_length=32",), ("radio.payload_length=4",)),
    (
        "transmitter.look.jitter_ms",
        (
            *MEETS,
            *PLAIN,
            "transmitter.look.clock_ppm=-9",
            "transmitter.drive.jitter_ms=0",
            "transmitter.look.jitter_ms=0",
        ),
        ("transmitter.drive.jitter_ms=0", "transmitter.look.jitter_ms=0"),
    ),
]


def test_a_scene_in_which_nothing_is_wrong_has_no_finding() -> None:
    assert found() == {}


@pytest.mark.parametrize(("where", "shows", "twin"), SHOWN, ids=[where for where, _, _ in SHOWN])
def test_a_finding_is_proved_where_it_is_and_silent_in_its_twin(
    where: str, shows: tuple[str, ...], twin: tuple[str, ...]
) -> None:
    here = found(*shows)

    assert where in here, sorted(here)
    proof = here[where].proof
    assert proof["before"] != proof["after"]
    assert here[where].measure
    assert here[where].why
    # What is told to be tried can be pasted, and was tried.
    assert bool(here[where].set) == ("cured" in proof)
    assert changed(scene(*shows), here[where].set)
    assert where not in found(*twin)


def test_no_rerun_takes_days_because_a_timeout_or_a_boot_does() -> None:
    scenario = scene("failsafe.drive.timeout_ms=300000000", "duration_s=5")
    case = Case(scenario=scenario, summary=simulate_starts(scenario, count=1))

    assert not case.is_sound(drill(scenario, "drive", "power_off"))
    assert case.is_sound(("failsafe.drive.timeout_ms=30000",))
