"""Reruns in which nobody looks at outputs."""

import hypothesis
import msgspec

from radiosim.findings.case import Case, Changes
from radiosim.measure.figures import flat
from radiosim.scenario import Scenario
from radiosim.study.starts import simulate_starts
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

OTHER = Changes(keys=('title = "the same under another name"',))


@hypothesis.given(scenarios)
@examples(20)
def test_figures_of_streams_are_the_same_where_nobody_looks_at_outputs(scenario: Scenario) -> None:
    scenario = msgspec.structs.replace(scenario, requirement=())
    summary = simulate_starts(scenario, count=1, workers=1)
    without, whole = (Case(run=scenario, summary=summary) for _ in range(2))
    paths = [path for path in flat(summary.figures) if path.startswith("stream.")]

    assert {path: without.value(path, OTHER, 0) for path in paths} == {
        path: whole.value(path, OTHER, 0, is_whole=True) for path in paths
    }
