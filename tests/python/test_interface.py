"""Functions of Python give what commands give, and show it in every way that pages do."""

import doctest
import importlib
import importlib.util
import json
from pathlib import Path
from xml.etree import ElementTree

import msgspec
import pytest
from matplotlib.figure import Figure

import radiosim
from radiosim import python as interface
from radiosim.errors import OptionError, RadiosimError, ScenarioError, TraceError
from radiosim.results.document import Report
from radiosim.safety import CAUTION
from tests.cli.typed import tiny, typed

WORKERS = 1


@pytest.fixture(scope="module")
def twins() -> radiosim.Result:
    return radiosim.run("twin-clocks", starts=2, duration_s=10, findings=False, workers=WORKERS)


@pytest.fixture(scope="module")
def reach() -> radiosim.StudyResult[object]:
    return radiosim.range("harbour-tug", points=3, starts=1, duration_s=2, workers=WORKERS)


def same_as_command(result: radiosim.StudyResult[object], *arguments: str | Path) -> bool:
    return json.loads(result.json()) == json.loads(typed(*arguments, "--json", "-").out)


def test_the_example_of_the_package_is_true() -> None:
    flags = doctest.ELLIPSIS | doctest.IGNORE_EXCEPTION_DETAIL
    done = doctest.testmod(interface, optionflags=flags)

    assert done.attempted > 10
    assert not done.failed


def test_a_run_is_that_of_the_command(tmp_path: Path) -> None:
    path = tiny(tmp_path)
    result = radiosim.run(path, seed=3, set=["air.loss=0.1"], workers=WORKERS)

    assert same_as_command(result, "run", path, "--seed", "3", "--set", "air.loss=0.1")
    assert result.report() == typed("run", path, "--seed", "3", "--set", "air.loss=0.1").out
    assert result.report(more=True) != result.report()
    assert result.findings is not None
    assert result.scenario.air.loss == 0.1


def test_one_start_is_that_of_the_command(tmp_path: Path) -> None:
    path = tiny(tmp_path)

    assert same_as_command(radiosim.run(path, start=5), "run", path, "--start", "5")


def test_a_start_with_too_many_rows_to_keep_is_measured_all_the_same(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = tiny(tmp_path)
    whole = radiosim.run(path, start=5, findings=False)
    monkeypatch.setattr(importlib.import_module("radiosim.python.run"), "MOST_KEPT_BYTES", 1_000)
    result = radiosim.run(path, start=5, findings=False)

    assert result.json() == whole.json()
    with pytest.raises(TraceError, match=r"must have at most 1,000 bytes .* shorten it"):
        _ = result.worst_trace
    assert result.page().endswith("</html>")


def test_a_trace_is_measured_as_it_is(tmp_path: Path) -> None:
    scenario = radiosim.load(tiny(tmp_path))
    trace = radiosim.simulate(scenario, start=5)
    result = radiosim.run(trace, findings=False)

    assert result.json() == radiosim.run(scenario, start=5, findings=False).json()
    assert result.worst_trace is trace
    with pytest.raises(OptionError, match="must be no trace where something is to be changed"):
        radiosim.run(trace, seed=2)


def test_findings_that_nobody_looked_for_are_none(twins: radiosim.Result) -> None:
    assert twins.findings is None
    assert json.loads(twins.json())["findings"] is None


def test_hours_make_starts(tmp_path: Path) -> None:
    result = radiosim.run(tiny(tmp_path), hours=0.002, findings=False, workers=WORKERS)

    assert result.summary.starts == 4


def test_a_result_holds_what_was_measured_and_judged(twins: radiosim.Result) -> None:
    assert twins.figures is twins.summary.figures
    assert twins.worst["stream.drive.gap_ms.max"].value == twins.figures.stream["drive"].gap_ms.max
    assert [requirement.ok for requirement in twins.requirements] == [False, False]
    assert twins.ok is False
    assert twins.found == twins.summary.results()
    assert repr(twins).startswith("<Result Twin clocks: 2 starts of 10 s")
    assert repr(twins).splitlines()[1:] == [CAUTION]


def test_requirements_that_hold_are_ok_and_none_are_neither(tmp_path: Path) -> None:
    asked = '[[requirement]]\nfigure = "stream.drive.gap_ms.max"\nat_most = 1000\n'

    assert radiosim.run(tiny(tmp_path, asked), findings=False, workers=WORKERS).ok is True
    assert radiosim.run(tiny(tmp_path), findings=False, workers=WORKERS).ok is None


def test_tables_are_those_of_the_files(twins: radiosim.Result, tmp_path: Path) -> None:
    table = twins.tables()["streams"]
    typed(*("run", "twin-clocks", "--starts", "2", "--duration-s", "10", "--csv", tmp_path / "csv"))
    head, *rows = (tmp_path / "csv" / "streams.csv").read_text().splitlines()

    assert list(table) == head.split(",")
    assert list(table["stream"]) == [row.split(",")[0] for row in rows] == ["drive", "head"]
    assert table["gap_ms.max"].dtype == float
    assert set(twins.tables()) == {file.stem for file in (tmp_path / "csv").iterdir()}


@pytest.mark.skipif(importlib.util.find_spec("pandas") is None, reason="pandas is an extra")
def test_tables_are_data_frames_where_there_is_pandas(twins: radiosim.Result) -> None:
    assert type(twins.tables()["streams"]).__name__ == "DataFrame"


@pytest.mark.slow
def test_a_page_has_a_picture_of_each_plot(twins: radiosim.Result) -> None:
    page = twins.page()

    assert list(twins.plot) == ["gaps", "worst", "beats", "latency", "first"]
    for name, plot in twins.plot.items():
        assert f'id="figure-{name}"' in page
        assert plot.title
        assert plot.text
        assert plot.data


def test_every_plot_of_a_run_is_painted_into_axes(twins: radiosim.Result) -> None:
    for plot in twins.plot.values():
        axes = Figure(layout="constrained").subplots()

        assert plot(axes) is axes
        painted = [part for each in axes.figure.axes for part in (*each.lines, *each.patches)]
        assert painted


def test_a_plot_is_a_file_of_its_own_too(twins: radiosim.Result) -> None:
    root = ElementTree.fromstring(twins.plot.gaps.svg())

    assert root.tag.endswith("svg")
    assert root[0].text == twins.plot.gaps.title
    assert twins.plot.gaps._repr_svg_() == twins.plot.gaps.svg()


def test_a_link_that_gets_another_layout_is_drawn() -> None:
    result = radiosim.layout_compare(
        *("culvert-crawler:drive_v1", "culvert-crawler:drive_v1"),
        scenario="culvert-crawler",
        set={"starts": 2, "duration_s": 5},
        workers=WORKERS,
    )
    axes = Figure(layout="constrained").subplots()

    assert result.plot.change(axes) is axes


def test_plots_are_found_by_name(twins: radiosim.Result) -> None:
    assert twins.plot.gaps is twins.plot["gaps"]
    assert {"gaps", "latency"} <= set(dir(twins.plot))
    assert "gaps: " in repr(twins.plot)
    with pytest.raises(AttributeError, match="no plot 'gap', must be one of: gaps, worst"):
        twins.plot.gap  # noqa: B018


def test_a_notebook_shows_title_verdict_and_tables(twins: radiosim.Result) -> None:
    shown = twins._repr_html_()

    assert "<b>Twin clocks</b>" in shown
    assert "0 of 2 requirements hold." in shown
    assert "<table>" in shown


@pytest.mark.slow
def test_a_range_is_that_of_the_command(reach: radiosim.StudyResult[object]) -> None:
    words = ("range", "harbour-tug", "--points", "3", "--starts", "1", "--duration-s", "2")

    assert same_as_command(reach, *words)
    assert reach.report() == typed(*words).out
    assert list(reach.plot) == ["range"]
    assert reach.ok is None
    assert "figure-range" in reach.page()


@pytest.mark.slow
def test_channels_are_those_of_the_command() -> None:
    assert same_as_command(radiosim.channels("club-meet"), "channels", "club-meet")


@pytest.mark.slow
def test_a_drill_is_that_of_the_command() -> None:
    result = radiosim.drill("smallest", repeats=2, hours=0.01, skip=["hang"], workers=WORKERS)
    words = ("failsafe", "smallest", "--repeats", "2", "--hours", "0.01", "--skip", "hang")

    assert same_as_command(result, *words)
    assert result.ok is False
    assert [name.split("_")[0] for name in result.plot] == ["reactions", "trade"]


@pytest.mark.slow
def test_a_tuning_is_that_of_the_command() -> None:
    vary, more = "transmitter.drive.period_ms=20,30", {"starts": 1, "duration_s": 2}
    result = radiosim.tune("smallest", vary=[vary], prefer=["drive"], workers=WORKERS, **more)
    asked = ("--vary", vary, "--prefer", "drive", "--starts", "1", "--duration-s", "2")

    assert same_as_command(result, "tune", "smallest", *asked)
    assert result.tables()


@pytest.mark.slow
def test_a_bench_test_sheet_is_that_of_the_command(tmp_path: Path) -> None:
    path = tiny(tmp_path)
    result = radiosim.bench_test(path, starts=3, minutes=0.05, workers=WORKERS)

    assert same_as_command(result, "bench-test", path, "--starts", "3", "--minutes", "0.05")


def test_a_comparison_of_layouts_is_that_of_the_command(tmp_path: Path) -> None:
    for name, field in (("old", "u8"), ("new", "u16")):
        text = f'[layout.drive]\nfields = [{{ name = "x", type = "{field}" }}]\n'
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    both = [f"{tmp_path / name}.toml:drive" for name in ("old", "new")]
    result = radiosim.layout_compare(*both, payload_length=8)

    assert same_as_command(result, "layout", "compare", *both, "--payload-length", "8")
    for plot in result.plot.values():
        with pytest.raises(TypeError, match=r"cannot be painted in axes: take its svg\(\)"):
            plot()
        assert "<svg" in plot.svg()
    with pytest.raises(OptionError, match=r"^stream, set: must go with scenario, which"):
        radiosim.layout_compare(*both, stream=["drive"])
    with pytest.raises(OptionError, match=r"^payload_length: must be own, fixed, or 1 to 32"):
        radiosim.layout_compare(*both, payload_length=33)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: radiosim.run("smallest", hours=1, starts=2), "hours: must stand without starts"),
        (
            lambda: radiosim.run("smallest", hours=-1),
            "hours: must be a number >= 0.001 and <= 1000000, got -1",
        ),
        (lambda: radiosim.run("smallest", start=1, starts=2), "start: must stand without starts"),
        (lambda: radiosim.run("smallest", duration_s=0), "duration_s: must be a number >= 0.001"),
        (lambda: radiosim.run("smallest", set=["air.los=1"]), "set: air.los: unknown key"),
        (lambda: radiosim.run("smallest", seed=1, set={"seed": 2}), "seed: must stand without set"),
        (lambda: radiosim.run("smallest", seed=1, set=["seed=2"]), "seed: must stand without set"),
        (lambda: radiosim.range("smallest"), "smallest: air.range: must be given for a range"),
        (lambda: radiosim.range("harbour-tug", points=1), "points: must be >= 2, got 1"),
        (lambda: radiosim.drill("smallest", skip=["rust"]), "skip: must be one of power_off"),
        (
            lambda: radiosim.drill("smallest", reaction_ms=0),
            "reaction_ms: must be a number >= 0.001",
        ),
        (lambda: radiosim.tune("smallest", starts=0), "starts: must be a whole number >= 1"),
        (lambda: radiosim.tune("smallest", prefer=["x"]), "prefer: must be a stream, one of drive"),
        (lambda: radiosim.tune("smallest", narrow="x"), "narrow: must be FIGURE=WIDTH"),
        (lambda: radiosim.bench_test("smallest", starts=2), "starts, minutes: must be >= 3"),
        (lambda: radiosim.run("smalest"), "smalest: must be a scenario file"),
    ],
)
def test_refusals_name_the_arguments(call: object, text: str) -> None:
    assert callable(call)
    with pytest.raises(RadiosimError) as caught:
        call()
    assert str(caught.value).startswith(text)
    assert "--" not in str(caught.value)


def test_keys_may_be_set_by_text_and_by_value(tmp_path: Path) -> None:
    path = tiny(tmp_path)
    by_text = radiosim.run(path, set=["transmitter.drive.period_ms=25"], workers=WORKERS)
    by_value = radiosim.run(path, set={"transmitter.drive.period_ms": 25}, workers=WORKERS)
    by_hand = radiosim.run(
        radiosim.load(path).replace(**{"transmitter.drive.period_ms": 25}), workers=WORKERS
    )

    assert by_text.figures == by_value.figures == by_hand.figures
    with pytest.raises(ScenarioError, match=r"transmitter\.drive\.period_ms: must be a number"):
        radiosim.run(path, set={"transmitter.drive.period_ms": "soon"})


def test_results_come_from_their_file(reach: radiosim.StudyResult[object], tmp_path: Path) -> None:
    path = tiny(tmp_path)
    reports: list[Report] = [
        radiosim.run(path, findings=False, workers=WORKERS)._report,
        radiosim.run(radiosim.load(path), findings=False, workers=WORKERS)._report,
    ]

    assert reports[0].origin.scenario_text == path.read_text(encoding="utf-8")
    assert reports[1].origin.scenario_text == ""
    assert msgspec.json.encode(reports[0].data) == msgspec.json.encode(reports[1].data)
