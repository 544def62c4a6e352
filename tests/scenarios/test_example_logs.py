"""The example logs are the simulated ones that they are said to be."""

from radiosim.bench_log.estimates import spread_us
from radiosim.bench_log.lives import counts_of
from radiosim.bench_log.read import read_logs
from radiosim.bench_log.records import Event, of_event
from radiosim.scenario import load
from radiosim.scenario.shipped import scenario_path
from radiosim.study.fit.fit import names_of
from tests.scenarios.example_logs import FOLDER, INVENTED, example_logs


def test_what_ships_is_what_was_simulated() -> None:
    made = example_logs()

    assert {path.name for path in FOLDER.iterdir()} == set(made)
    for name, content in made.items():
        assert (FOLDER / name).read_bytes() == content, name
    assert made["smallest-drive.csv"].decode().startswith(INVENTED)


def test_they_show_what_was_hidden_in_them() -> None:
    names = names_of(load(scenario_path("smallest")))
    drive, receiver = read_logs([*map(str, FOLDER.iterdir())], names)

    samples = of_event(drive.longest, Event.SAMPLE)
    spread = spread_us(counts_of(samples), samples["t_us"])
    passes = of_event(receiver.longest, Event.PASS)["t_us"]

    # 1.2 ms of jitter; passes of 3.1 ms and what reading takes, fifty to a record.
    assert spread.low <= 1_200 * 1.02
    assert spread.high >= 1_200 * 0.98
    assert 3_100 <= (passes[-1] - passes[0]) / (len(passes) - 1) / 50 < 3_200
