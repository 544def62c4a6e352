"""What a tuning varies."""

import pytest

from radiosim.study.tune.varied import (
    Setting,
    VaryError,
    chosen,
    grid,
    parsed,
    sampled,
    thinned,
    usual,
    values_in,
)
from tests.study.tune.scenarios import shipped, two


def test_values_are_read_as_a_grid_or_a_list() -> None:
    assert parsed("a.b=10:20:5").values == (10, 15, 20)
    assert parsed("a.b=0.1:0.3:0.1").values == (0.1, 0.2, 0.3)
    assert parsed("a.b=[1, 2,2]").values == (1, 2)
    assert parsed("a.b=7").line(7) == "a.b=7"


NO_PATH = "--vary: KEY must be a path of keys with a dot between each two"


@pytest.mark.parametrize(
    "text", ["a.b", "a=1:2", "a=2:1:1", "a=1:2:0", "a=?", "=1", "a=1:nan:1", "a=0:1e9:0.001"]
)
def test_values_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(VaryError, match="--vary"):
        parsed(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a=50:10:5", "--vary: LAST must not be below FIRST, got 'a=50:10:5'"),
        *((f"{key}=1,2", f"{NO_PATH}, got '{key}=1,2'") for key in ("[", "a..b", "a b", "a.", '"')),
        ("a=10:50:0", "--vary: STEP must be above 0, got 'a=10:50:0'"),
        ("a=50:10:-5", "--vary: STEP must be above 0, got 'a=50:10:-5'"),
    ],
)
def test_what_is_wrong_with_a_grid_is_said(text: str, said: str) -> None:
    with pytest.raises(VaryError) as refused:
        parsed(text)
    assert str(refused.value) == said


def test_periods_and_retries_vary_unless_others_are_asked_for() -> None:
    settings = {entry.key: entry.values for entry in usual(two())}

    assert settings["transmitter.drive.period_ms"][0] == 8
    assert settings["transmitter.drive.period_ms"][-1] == 50
    # An acknowledgement of 73 us after a settle time: the first step that is over after it (rule
    # D5).
    assert settings["transmitter.head.retry_delay_us"][:2] == (250, 500)
    assert settings["transmitter.head.retry_limit"] == (0, 1, 2, 3, 5)


def test_a_table_that_is_none_is_refused_before_anything_runs() -> None:
    with pytest.raises(VaryError, match="--vary: nosuch: unknown key 'nosuch'"):
        chosen(two(), ("nosuch.key=1,2",), None)


def test_a_key_that_is_none_is_refused_before_anything_runs() -> None:
    with pytest.raises(VaryError, match="perid_ms"):
        chosen(two(), ["transmitter.drive.perid_ms=1,2"], None)


def test_a_key_is_varied_once_however_it_is_written() -> None:
    for again in ("transmitter.drive.period_ms=3,4", 'transmitter."drive".period_ms=3'):
        with pytest.raises(VaryError, match="--vary: must name each key once"):
            chosen(two(), ["transmitter.drive.period_ms=1,2", again], None)


@pytest.mark.parametrize(
    ("text", "option"),
    [("seed=1,2,3", "--seed"), ("starts=1,2", "--starts"), ("duration_s=1:3:1", "--duration-s")],
)
def test_how_a_point_is_tried_does_not_vary(text: str, option: str) -> None:
    with pytest.raises(VaryError, match=f"must be a setting of the link, got .*{option} sets it"):
        chosen(two(), ["transmitter.drive.period_ms=1,2", text], None)


def test_a_grid_is_every_combination_and_a_sample_is_even() -> None:
    settings = [parsed("a=1,2,3"), parsed("b=5:50:5")]

    assert len(grid(settings)) == 30
    points = sampled([parsed("a=0:99:1")], 100, 3)
    # A Latin hypercube has one point in each of as many equal parts.
    assert sorted(value for (value,) in points) == list(range(100))
    assert sampled(settings, 12, 1) == sampled(settings, 12, 1)


def test_two_periods_alone_are_tried_in_every_combination_of_fewer_values() -> None:
    settings, points = chosen(shipped("twin-clocks"), [], 100)

    assert [len(setting.values) for setting in settings] == [10, 10]
    assert len(points) == 100
    assert {setting.values[0] for setting in settings} == {8}
    assert {setting.values[-1] for setting in settings} == {50}


def test_values_are_thinned_evenly_and_never_below_two() -> None:
    whole = Setting(key="a", values=tuple(map(float, range(101))))

    assert thinned(whole, 5).values == (0, 25, 50, 75, 100)
    assert thinned(whole, 1).values == (0, 100)
    assert thinned(Setting(key="a", values=(3.0,)), 5).values == (3,)


def test_what_the_scenario_has_is_known_and_what_is_no_number_is_none() -> None:
    settings = [parsed("transmitter.drive.period_ms=1"), parsed("radio.profile=1"), parsed("x.y=1")]
    found = values_in(two(), settings)

    assert found[0] == 20
    assert found[1:] == (None, None)


@pytest.mark.parametrize(
    ("text", "now"),
    [
        ("receiver.read=one,all", "all"),
        ("transmitter.drive.pacing=timer,elapsed", "timer"),
        ("receiver.flush_on_boot=true,false", "false"),
        ("transmitter.drive.acknowledge=true,flag", "true"),
        ("radio.profile=gfsk-250k,gfsk-1M", "gfsk-1M"),
    ],
)
def test_keys_that_take_words_are_varied_over_words(text: str, now: str) -> None:
    settings, points = chosen(two(), [text], None)

    (setting,) = settings
    assert setting.is_words
    assert [(value,) for value in text.partition("=")[2].split(",")] == list(points)
    assert values_in(two(), settings) == (now,)
    assert setting.line(setting.values[0]) == f"{setting.key}={setting.values[0]}"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("receiver.read=one,some", "--vary: receiver.read: must be one of .*, got 'some'"),
        (
            "receiver.loop_ms=1,fast",
            "--vary: receiver.loop_ms: must be a number >= 0 and <= 60000, got 'fast'",
        ),
        ("receiver.read=1,2", "--vary: receiver.read: must be one of"),
        ("transmitter.nosuch.period_ms=5,6", "--vary: transmitter.nosuch.layout: must be given"),
    ],
)
def test_a_word_that_a_key_does_not_take_is_refused_before_anything_runs(
    text: str, said: str
) -> None:
    with pytest.raises(VaryError, match=said):
        chosen(two(), [text], None)
