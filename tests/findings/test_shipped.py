"""What the shipped scenarios have to show: the right finding first, proved, with a cure that
works."""

import pytest

from radiosim.findings import diagnosed
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenario
from radiosim.study.starts import simulate_starts

EXPECTED = {
    "smallest": {"failsafe.head", "transmitter.head.period_ms", "transmitter.head.retry_delay_us"},
    "twin-clocks": {"transmitter.head.period_ms"},
    "slow-loop": {"receiver.delay_ms"},
    "shared-timer": {"failsafe.drive.fed_by"},
    "late-goggles": {"transmitter.head.boot_s"},
    "still-stick": {"layout.drive_v1"},
    "culvert-crawler": set(),
    "harbour-tug": {"transmitter.helm.power_dbm"},
    "club-meet": {f"interferer.{name}" for name in ("hall_network", "blue_truck", "red_buggy")},
    "long-pipe": {"transmitter.drive.power_dbm"},
}
ALSO = {"watch_field", "resume_needs", "jitter_ms", "watchdog_ms", "recheck_ms"}
"""What several of them leave open besides: stale values, a lurch, jitter that is not known,
programs that hang and radios that stay lost."""


@pytest.mark.parametrize("name", EXPECTED)
def test_a_shipped_scenario_shows_what_it_was_made_to_show(name: str) -> None:
    shipped = shipped_scenario(name)
    assert shipped is not None
    given = load(shipped.path, ["starts=6"])

    run = diagnosed(
        given,
        simulate_starts(given, workers=1),
        reread=lambda lines: load(shipped.path, ["starts=6", *lines]),
        workers=1,
    )
    found = run.findings or ()

    main = {f.where for f in found if f.where.rsplit(".", 1)[-1] not in ALSO}
    assert main == EXPECTED[name]
    for finding in found:
        if finding.where in main:
            assert finding.set, finding.where
            assert finding.proof["cured"] is not None
