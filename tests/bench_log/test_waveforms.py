"""Value change dumps: wires that stand for events, beside another reader of the format."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from vcd import VCDWriter

from radiosim.bench_log.csv_records import Names
from radiosim.bench_log.read import read_logs
from radiosim.bench_log.records import RECEIVER, Event, LogError, of_event
from radiosim.bench_log.waveforms import wires_of
from tests.report.waveform_reading import read_by_another

NAMES = Names(transmitters=("drive", "head"), outputs=("motor",))
MAP = "loop=pass,top.irq=read:drive,servo=output:motor,safe=failsafe:drive,power=boot"
PASS_US, PERIOD_US, PASSES, READS = 2_000, 20_000, 500, 50


def dump(folder: Path) -> Path:
    """A receiver that is switched on at 5 ms, turns round every 2 ms, and reads every 20 ms."""
    path = folder / "bench.vcd"
    changes = [(5_000, "power", 1)]
    changes += [(105_000 + k * PASS_US, "loop", k % 2 == 0) for k in range(PASSES)]
    for k in range(READS):
        at = 110_000 + k * PERIOD_US
        # The eleventh and twelfth are lost.
        changes += [(at, "irq", 1), (at + 100, "irq", 0)] if k not in (10, 11) else []
        changes += [(at + 300, "servo", 1), (at + 1_800, "servo", 0)]
    changes += [(300_000, "safe", 1), (360_000, "safe", 0)]
    with path.open("w") as file, VCDWriter(file, timescale="100 ns", comment="#1 1! x") as writer:
        wires = {
            name: writer.register_var("top", name, "wire", size=1, init=0)
            for name in ("power", "loop", "irq", "servo", "safe")
        }
        noise = writer.register_var("top", "bus", "wire", size=8, init=0)
        for at, name, value in sorted(changes):
            writer.change(wires[name], 10 * at, int(value))
            writer.change(noise, 10 * at, at % 256)
    return path


def test_wires_become_the_records_that_they_stand_for(tmp_path: Path) -> None:
    (log,) = read_logs([str(dump(tmp_path))], NAMES, wires_of(MAP, NAMES))

    (life,) = log.lives
    assert log.unit == RECEIVER
    assert log.is_real_time
    assert life["event"][0] == Event.BOOT
    passes = of_event(life, Event.PASS)
    assert passes["value"].tolist() == [0, *[50] * 9]
    assert np.diff(passes["t_us"]).tolist() == [50 * PASS_US] * 9
    assert set(of_event(life, Event.LONGEST)["value"].tolist()) == {PASS_US}
    reads = of_event(life, Event.READ, 0)
    # A wire shows no counter: two missing ones are known by the time.
    assert sorted(set(range(READS)) - set(reads["value"].tolist())) == [10, 11]
    pulses = of_event(life, Event.OUTPUT, 0)
    assert pulses["value"].tolist() == [1_500] * READS
    safe = of_event(life, Event.FAILSAFE, 0)
    assert safe["t_us"].tolist() == [300_000, 360_000]
    assert safe["value"].tolist() == [1, 0]


def test_edges_are_those_of_another_reader(tmp_path: Path) -> None:
    path = dump(tmp_path)
    other = read_by_another(path)["top.irq"]
    rises = [at // 10 for (_, before), (at, level) in pairwise(other.tv) if level > before]

    (log,) = read_logs([str(path)], NAMES, wires_of("irq=read:drive", NAMES))

    assert of_event(log.lives[0], Event.READ)["t_us"].tolist() == rises


HEAD = "$timescale 1 us $end\n$var wire 1 ! irq $end\n$enddefinitions $end\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD, "a.vcd: irq must change, got no edge"),
        (HEAD + "#5\n1!\n#4\n0!\n", "a.vcd:6: time must not go back from #5, got '#4'"),
        (HEAD + "#5\nhello\n", "a.vcd:5: must be an instant or a change of value, got 'hello'"),
        (HEAD + "#5x\n", "a.vcd:4: an instant must be # and a whole number"),
        (HEAD + "#5\n1!\n#9999999999999999999\n0!\n", "a.vcd:6: an instant must be at most #"),
        (HEAD + "#5\nb101\n", "a.vcd:5: a value must have a code"),
        (HEAD.replace("1 us", "3 us"), "a.vcd:1: $timescale must be 1, 10 or 100 of"),
        (HEAD.replace("$timescale 1 us $end\n", ""), "must have a $timescale"),
        (HEAD.replace("irq", "line"), "--map: irq must be a wire of the dump (line), got no wire"),
        (HEAD.replace("wire 1", "wire 8"), "a.vcd:2: irq must be one wire, got '8 of them'"),
        (HEAD.replace("1 ! irq", "1 !"), "a.vcd:2: $var must have a type"),
        ("$timescale 1 us $end\n", "must have $enddefinitions"),
        ("$timescale 1 us", "a keyword must be closed by $end"),
        ("$timescale 1 us $end 0!", "must begin with declarations, got '0!'"),
    ],
)
def test_a_dump_that_is_none_is_refused_with_its_place(
    tmp_path: Path, text: str, said: str
) -> None:
    path = tmp_path / "a.vcd"
    path.write_text(text)

    with pytest.raises(LogError) as refused:
        read_logs([str(path)], NAMES, wires_of("irq=read:drive", NAMES))
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("said", "refused"),
    [
        ("irq", "--map: must be WIRE=EVENT"),
        ("irq=tea", "event must be one of boot, pass"),
        ("irq=read:tail", "read must be of a transmitter (drive, head), as read:NAME"),
        ("a=pass,a=boot", "a must stand for one event"),
    ],
)
def test_a_map_of_what_is_not_there_is_refused(said: str, refused: str) -> None:
    with pytest.raises(LogError) as error:
        wires_of(said, NAMES)
    assert refused in str(error.value)


def test_a_dump_without_a_map_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="a value change dump needs --map"):
        read_logs([str(dump(tmp_path))], NAMES)
