"""The log of a program in the loop is that of the model wherever the program does as predicted."""

import json
from pathlib import Path

import numpy as np
import pytest

from radiosim.bench_log.lives import unit_log
from radiosim.bench_log.probe_records import decoded
from radiosim.bench_log.records import RECEIVER, Event, Records, of_event
from radiosim.firmware.emulator import compiled_for_chip, lacking
from radiosim.scenario import load
from radiosim.scenario.changed import changed
from radiosim.scenario.shipped import scenario_path
from radiosim.study.fit.receiver_figures import boots_ms
from radiosim.study.fit.simulated import logs_of
from radiosim.vehicle.feedback import simulate
from tests.cli.typed import typed

EXAMPLES = Path(__file__).parents[2] / "radiosim" / "firmware" / "examples"
HERE = Path(__file__).parent
CUT = ("duration_s=3", "starts=1", "fault=[]")


def log_of(path: Path) -> Records:
    records, strange = decoded(path.read_bytes(), path.name)
    assert strange == 0
    return records


def test_the_log_of_a_program_is_that_of_the_model(tmp_path: Path) -> None:
    target = tmp_path / "rx.log"
    words = [word for line in CUT for word in ("--set", line)]

    done = typed("firmware", "culvert-crawler", EXAMPLES / "crawler.c", *words, "--log", target)

    assert done.code in (0, 1)
    real = log_of(target)
    model = logs_of(simulate(changed(load(scenario_path("culvert-crawler")), CUT)))[RECEIVER]
    for event in (Event.READ, Event.PASS, Event.LONGEST):
        mine, predicted = of_event(real, event), of_event(model, event)
        assert len(mine) > 40
        assert mine.tobytes() == predicted.tobytes(), event
    assert real["event"][:2].tolist() == [Event.BOOT, Event.STAMP]


def test_a_log_needs_a_program(tmp_path: Path) -> None:
    done = typed("firmware", "smallest", "--emit", tmp_path, "--log", tmp_path / "a.log")

    assert done.code == 2
    assert "--log: must stand beside the program's files" in done.err


@pytest.mark.slow
@pytest.mark.skipif(lacking() is not None, reason=lacking() or "")
def test_times_of_the_chip_lie_in_the_intervals_of_its_log(tmp_path: Path) -> None:
    image, _ = compiled_for_chip(tmp_path, [HERE / "whole.c"], board=(), defines=())
    target = tmp_path / "chip.log"
    pins = "mhz=16,select=B2,enable=B1,line=D2,mark=C0,motor=D3,steering=D4"
    words = ("--pins", pins, "--starts", "1", "--duration-s", "8", "--log", target, "--json", "-")

    done = typed("firmware", HERE / "whole.toml", image, "--measure", *words)

    assert done.code in (0, 1)
    mean_us = {time["name"]: time["mean_us"] for time in json.loads(done.out)["times"]}
    log = unit_log(log_of(target), RECEIVER, "chip")
    passes = of_event(log.lives[0], Event.PASS)
    passes = passes[passes["value"] > 0]
    assert len(passes) > 100
    each_us = np.diff(passes["t_us"]) / passes["value"][1:]
    # It sleeps until the next step of its timer: a pass is 1 ms whatever it does meanwhile.
    assert each_us.mean() == pytest.approx(1_000, abs=0.05)
    boot = next(us for name, us in mean_us.items() if name.startswith("power-on"))
    assert boots_ms(log) == [pytest.approx(boot / 1000, abs=0.002)]
