"""`shared-timer` never notices that the hand controller is gone."""

from radiosim.measure.summary import Summary
from tests.scenarios.shortened import summary_of, the_only_fault, verdicts


def shared_timer(*overrides: str) -> Summary:
    return summary_of("shared-timer", 3, "duration_s=35", *overrides)


def test_a_shared_timer_never_trips_while_the_goggles_live() -> None:
    summary = shared_timer()
    failsafe = summary.figures.stream["drive"].failsafe

    assert failsafe is not None
    assert (failsafe.trips_on_fault, failsafe.nuisance_trips) == (0, 0)
    assert the_only_fault(summary).starts_without_reaction == 3


def test_a_shared_timer_keeps_full_throttle_for_ten_seconds_and_a_boot() -> None:
    held_ms = shared_timer().figures.output["motor"].longest_hold_ms

    assert held_ms is not None
    # Nobody says how long it boots: 1 s.
    assert 10_960 < held_ms < 11_060


def test_a_shared_timer_has_no_bound_and_says_why() -> None:
    reaction = shared_timer().reaction["drive"]

    assert reaction.bound_ms["motor"] is None
    assert reaction.why["motor"] == "any other stream feeds its timer"


def test_a_timer_of_its_own_stops_the_motor_within_the_bound() -> None:
    cured = shared_timer("failsafe.drive.fed_by=own")
    reaction_ms, bound_ms = the_only_fault(cured).reaction_ms, cured.reaction["drive"].bound_ms

    assert reaction_ms is not None
    assert bound_ms["motor"] is not None
    assert reaction_ms <= bound_ms["motor"]
    assert set(verdicts(cured).values()) == {True}
