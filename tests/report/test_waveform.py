from itertools import pairwise
from pathlib import Path

import pytest

from radiosim.engine.simulate import simulate
from radiosim.measure.start import tally_start
from radiosim.report import waveform as report_waveform
from radiosim.report.files import ReportError
from radiosim.report.waveform import Signal, check_length, identifier, signals_of, waveform
from radiosim.scenario import parse
from radiosim.trace import Trace
from tests.report.waveform_reading import Reread

SCENARIO = """
duration_s = 3
radio.profile = "gfsk-1M"
air.loss = 0.3
receiver.deaf = [{ every_ms = 50, for_ms = 4 }]
transmitter.left-hand = { period_ms = 20, payload_bytes = 6 }
transmitter.head = { period_ms = 30, payload_bytes = 6 }
output.pan = { stream = "head", field = "value" }
"""


def start(*overrides: str) -> Trace:
    return simulate(parse(SCENARIO, overrides=overrides))


def time_on(signal: Signal, end_ns: int) -> int:
    changes = [(0, signal.first), *signal.changes, (end_ns, 0)]
    return sum(then - at for (at, value), (then, _) in pairwise(changes) if value == 1)


def by_name(trace: Trace) -> dict[str, int]:
    return {
        ".".join((*signal.scope, signal.name)): time_on(signal, trace.duration_ns)
        for signal in signals_of(trace)
        if signal.bits == 1 and signal.first != "x"
    }


def test_a_transmitters_radio_is_in_each_state_as_long_as_its_figures_say() -> None:
    trace = start()
    found = by_name(trace)

    for name, tally in zip(
        trace.scenario.transmitter, tally_start(trace).streams.values(), strict=True
    ):
        # What is under way as the start ends counts whole in the figures.
        within = pytest.approx(
            tally.radio.transmit_settle_ns + tally.radio.receive_settle_ns, abs=1e6
        )
        assert found[f"transmitters.{name}.settles"] == within
        assert found[f"transmitters.{name}.on_air"] == pytest.approx(
            tally.radio.transmit_ns, abs=1e6
        )
        assert found[f"transmitters.{name}.listens"] == pytest.approx(
            tally.radio.receive_ns, abs=1e6
        )


def test_a_receiver_that_its_program_makes_deaf_does_not_listen() -> None:
    deaf, open_ = by_name(start()), by_name(start("receiver.deaf=[]"))

    # 4 ms in 50, of 3 s, but for the time in which it acknowledges anyway.
    assert deaf["receiver.listens"] == pytest.approx(
        open_["receiver.listens"] * (1 - 4 / 50), rel=0.02
    )


def test_names_that_the_format_does_not_take_are_escaped(tmp_path: Path) -> None:
    names = Reread(start(), tmp_path).names

    assert identifier("left_hand") == "left_hand"
    assert "transmitters.\\left-hand.on_air" in names
    assert "transmitters.head.on_air" in names


def test_one_trace_gives_one_text() -> None:
    assert waveform(start()) == waveform(start())


def test_a_waveform_that_would_be_too_long_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    trace = start()
    monkeypatch.setattr(report_waveform, "MOST_CHANGES", 1000)

    with pytest.raises(ReportError, match=r"must be at most 1,000 changes, got some .*-s 0"):
        waveform(trace)
    with pytest.raises(ReportError, match="--duration-s"):
        check_length(trace.scenario)
