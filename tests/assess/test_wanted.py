"""What is offered as requirements can be pasted, and holds where that is said."""

from hypothesis import given
from msgspec.structs import replace

from radiosim.assess.wanted import wanted, wanted_but_missed, wanted_lines
from radiosim.engine.simulate import simulate
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import summary_of
from radiosim.report.run import NOTHING_REQUIRED
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed
from tests.engines.random_scenarios import scenarios
from tests.examples import examples
from tests.report.printing import TINY, flat, printed, simulated


@given(scenarios)
@examples(25, deadline=None)
def test_offered_requirements_are_accepted_and_hold_as_said(given_one: Scenario) -> None:
    plain = replace(given_one, requirement=())
    tallies = [tally_start(simulate(plain, start=start)) for start in range(2)]
    asked = changed(plain, wanted_lines(plain))
    judged = summary_of(asked, tallies).requirements

    assert asked.requirement == wanted(plain)
    missed = wanted_but_missed(summary_of(plain, tallies), plain)
    # A run too short to have seen the beats of its clocks judges nothing; figures stand anyhow.
    assert set(missed) >= {found.figure for found in judged if found.ok is False}
    assert not set(missed) & {found.figure for found in judged if found.ok}


def test_a_run_without_requirements_ends_by_saying_so() -> None:
    given_one, summary = simulated(TINY)
    text = printed(summary, given_one)

    assert " ".join(text.split()).endswith(NOTHING_REQUIRED)
    for line in wanted_lines(given_one):
        assert f"  --set {line}\n" in text


def test_a_run_with_requirements_offers_none() -> None:
    asked = TINY + '[[requirement]]\nfigure = "stream.drive.gap_ms.max"\nat_most = 100\n'
    given_one, summary = simulated(asked)

    assert NOTHING_REQUIRED not in flat(summary, given_one)
    assert "Requirements to paste" not in flat(summary, given_one)
