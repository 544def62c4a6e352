"""Time in each state of a radio, by hand."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.simulate import simulate
from radiosim.measure import summarise
from radiosim.measure.of_stream import Traffic, of_receiver, of_transmitter, radio_on_ns, window_ns
from radiosim.measure.start import tally_start
from radiosim.measure.tally import RadioTally
from tests.traces import scenario_with

SETTLE, WINDOW, ANSWER = 130_000, 250_000, 73_000


def plan(*keys: str) -> Plan:
    return make_plan(scenario_with("radio.settle_us=130", *keys), 0)


def traffic(**counts: int) -> Traffic:
    nothing = dict.fromkeys(Traffic.__struct_fields__, 0)
    return Traffic(**nothing | counts)


def test_a_taken_acknowledgement_ends_the_listening() -> None:
    radio = of_transmitter(
        plan(),
        0,
        traffic(attempts=3, on_air_ns=300_000, acknowledgements=3, acknowledgements_ns=3 * ANSWER),
    )

    assert radio.transmit_settle_ns == radio.receive_settle_ns == 3 * SETTLE
    assert radio.transmit_ns == 300_000
    assert radio.receive_ns == 3 * ANSWER
    assert radio.standby_ns == 2_000_000_000 - radio.busy_ns


def test_without_an_acknowledgement_the_window_closes() -> None:
    assert of_transmitter(plan(), 0, traffic(attempts=4)).receive_ns == 4 * WINDOW


def test_an_acknowledgement_in_vain_keeps_it_listening_to_the_windows_end() -> None:
    radio = of_transmitter(
        plan(), 0, traffic(attempts=1, acknowledgements=1, acknowledgements_ns=ANSWER, unheard=1)
    )

    assert radio.receive_ns == WINDOW


def test_a_retry_closes_the_window_early() -> None:
    p = plan("transmitter.drive.retry_delay_us=250")

    # 250 + 130 to the next attempt, less turning round twice.
    assert window_ns(p.tx[0]) == 120_000


def test_an_attempt_that_was_cut_listens_to_nothing() -> None:
    radio = of_transmitter(plan(), 0, traffic(attempts=1, cut=1, on_air_ns=50_000))

    assert (radio.receive_settle_ns, radio.receive_ns) == (0, 0)


@pytest.mark.parametrize("acknowledge", ["'flag'", "false"])
def test_who_asks_for_no_acknowledgement_does_not_listen(acknowledge: str) -> None:
    p = plan(*(f"transmitter.{name}.acknowledge={acknowledge}" for name in ("drive", "head")))

    radio = of_transmitter(p, 0, traffic(attempts=2, on_air_ns=200_000))
    assert radio == RadioTally(
        transmit_settle_ns=2 * SETTLE, transmit_ns=200_000, standby_ns=radio.standby_ns
    )


def test_the_receiver_listens_except_to_acknowledgement() -> None:
    acknowledgements = [
        traffic(acknowledgements=2, acknowledgements_ns=2 * ANSWER),
        traffic(acknowledgements=1, acknowledgements_ns=ANSWER),
    ]
    p = plan()

    radio = of_receiver(p, acknowledgements)

    assert radio.transmit_ns == 3 * ANSWER
    assert radio.transmit_settle_ns == radio.receive_settle_ns == 3 * SETTLE
    assert radio.busy_ns == radio_on_ns(p, 2)


def test_a_radio_without_power_counts_as_asleep() -> None:
    p = plan("fault=[{at_s=0.5, for_s=0.3, kind='power_off', unit='head'}]")

    assert radio_on_ns(p, 1) == pytest.approx(1.7e9, abs=1e6)
    assert of_transmitter(p, 1, traffic()).asleep_ns == 2_000_000_000 - radio_on_ns(p, 1)


def test_each_radios_states_fill_its_time() -> None:
    s = scenario_with("radio.settle_us=130", "air.loss=0.2", "duration_s=1")
    tally = tally_start(simulate(s))

    for stream, index in (("drive", 0), ("head", 1)):
        radio = tally.streams[stream].radio
        assert radio.busy_ns + radio.standby_ns == radio_on_ns(make_plan(s, 0), index)
        assert radio.standby_ns > 0


@given(st.sampled_from(["drive", "head", "receiver"]), st.floats(1, 10_000), st.floats(0, 500))
def test_hours_are_the_cell_over_what_is_drawn(name: str, cell_mah: float, board_ma: float) -> None:
    table = name if name == "receiver" else f"transmitter.{name}"
    s = scenario_with(
        "duration_s=0.1", f"{table}.battery_mah={cell_mah}", f"{table}.board_ma={board_ma}"
    )
    figures = summarise(simulate(s)).figures
    unit = figures.receiver if name == "receiver" else figures.stream[name]

    assert unit.battery_h == pytest.approx(cell_mah / (unit.charge_mah_per_hour + board_ma))


def test_without_a_cell_no_hours_are_told() -> None:
    figures = msgspec.to_builtins(summarise(simulate(scenario_with("duration_s=0.1"))).figures)

    assert figures["receiver"]["battery_h"] is None
    assert figures["receiver"]["charge_mah_per_hour"] > 12
