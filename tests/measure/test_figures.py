"""Single figures of a start against all of them at once."""

from radiosim.engine.simulate import flow
from radiosim.measure.figures import figures_at, start_figures
from radiosim.measure.start import tally_flow
from radiosim.registers.figure_register import figure_paths
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scenarios


def test_every_figure_of_every_shipped_scenario_is_the_same_number() -> None:
    for shipped in shipped_scenarios():
        given = load(shipped.path, ["duration_s=3"])
        tally = tally_flow(flow(given))
        everything = start_figures(given, tally)
        paths = figure_paths(tuple(given.transmitter), tuple(given.output))

        assert figures_at(given, tally, paths) == {
            path: everything[path] for path in paths if path in everything
        }


def test_a_figure_that_was_not_measured_is_left_out() -> None:
    shipped = next(
        shipped_one for shipped_one in shipped_scenarios() if shipped_one.name == "smallest"
    )
    given = load(shipped.path, ["duration_s=0.001"])
    found = figures_at(
        given, tally_flow(flow(given)), ["stream.drive.latency_ms.p99", "stream.drive.gap_ms.max"]
    )

    assert list(found) == ["stream.drive.gap_ms.max"]
