"""What is better on the air never makes an attempt worse: its draw is its own (rules T3 and C3).

That a shorter frame never fares worse is a law of the rule alone (tests/engine/test_errors.py):
in a scenario it goes out earlier too, and meets another air.
"""

from typing import Any

import msgspec
from hypothesis import assume, given
from hypothesis import strategies as st

from radiosim.engine.simulate import simulate
from radiosim.radio.antenna import NAMED
from radiosim.scenario import Scenario, parse
from radiosim.trace import FULL, ROWS
from tests.engines.random_scenarios import antenna, far, interferer, levels, place, toml_of, track
from tests.examples import examples

Heard = set[tuple[int, int]]


@st.composite
def one_plain_transmitter(draw: st.DrawFn) -> dict[str, Any]:
    """A transmitter without acknowledgements, so that what it sends does not hang on what
    arrives."""
    air: dict[str, Any] = {"loss": draw(st.sampled_from([0, 0.2])), "range": draw(far)}
    if draw(st.booleans()):
        air["range"]["track"] = draw(track)
    else:
        air["range"]["distance_m"] = draw(st.sampled_from([1.0, 40.0, 90.0, 200.0]))
    if draw(st.booleans()):
        air["burst"] = {"good_ms": 20, "bad_ms": 8, "loss_good": 0.1, "loss_bad": 0.8}
    unit = {"period_ms": 1, "payload_bytes": 12, "acknowledge": False}
    names = ["house", "neighbour"][: draw(st.integers(0, 2))]
    return {
        "duration_s": 0.15,
        "seed": draw(st.integers(0, 50)),
        "radio": {"profile": "gfsk-1M", "power_on_reset_ms": 0},
        "transmitter": {"drive": unit | {"place": draw(place)}},
        "receiver": {"loop_ms": 0.5, "read": "all"},
        "air": air,
        "interferer": {
            name: draw(interferer) | {"channel_mhz": 2468} | draw(levels) for name in names
        },
    }


def scenario_of(document: dict[str, Any]) -> Scenario:
    return parse(toml_of(document))


def heard(given: Scenario) -> Heard:
    """Attempts that reached the receiver, a full FIFO or not.

    In an ordinary start: the phases of one on a beat follow what it beats with."""
    rows = simulate(given, start=1).attempts
    kept = rows[rows["fate"] <= FULL]
    return {(row["stream"].item(), row["frame"].item()) for row in kept}


@given(one_plain_transmitter(), st.floats(0.1, 30))
@examples(150)
def test_more_power_loses_no_attempt(document: dict[str, Any], more_db: float) -> None:
    given = scenario_of(document)
    unit = given.transmitter["drive"]
    louder = msgspec.structs.replace(unit, power_dbm=min(unit.power_dbm + more_db, 30))

    better = msgspec.structs.replace(given, transmitter={"drive": louder}, radio=no_overload(given))
    assert heard(given) <= heard(better)


def no_overload(given: Scenario) -> Any:
    """Radios that nothing is too strong for."""
    return msgspec.structs.replace(given.radio, max_input_dbm=60.0)


@given(one_plain_transmitter(), antenna, st.booleans(), st.floats(0, 20))
@examples(150)
def test_a_better_pattern_loses_no_attempt(
    document: dict[str, Any], worn: dict[str, Any], is_receivers: bool, more_db: float
) -> None:
    shape = worn["pattern"]
    shape = [list(pair) for pair in NAMED[shape]] if isinstance(shape, str) else shape
    unit = document["receiver"] if is_receivers else document["transmitter"]["drive"]
    unit["antenna"] = worn | {"pattern": shape}
    given = scenario_of(document)
    unit["antenna"] = worn | {"pattern": [[deg, min(30, db + more_db)] for deg, db in shape]}
    better = scenario_of(document)

    assert heard(given) <= heard(msgspec.structs.replace(better, radio=no_overload(better)))


@given(one_plain_transmitter(), st.floats(0.1, 0.99))
@examples(150)
def test_less_distance_loses_no_attempt(document: dict[str, Any], share: float) -> None:
    document["transmitter"]["drive"]["place"].pop("distance_m", None)
    # Two rays add up and cancel by turns before their breakpoint.
    document["air"]["range"].setdefault("path", "free-space")
    nearer = document | {"air": document["air"] | {"range": dict(document["air"]["range"])}}
    where = nearer["air"]["range"]
    if "track" in where:
        where["track"] = [[t, metres * share] for t, metres in where["track"]]
    else:
        where["distance_m"] *= share
    given, better = scenario_of(document), scenario_of(nearer)

    better = msgspec.structs.replace(better, radio=no_overload(better))
    assert heard(given) <= heard(better)


@given(one_plain_transmitter(), st.floats(0, 60))
@examples(150)
def test_less_interference_loses_no_attempt(document: dict[str, Any], less_db: float) -> None:
    given = scenario_of(document)
    assume(given.interferer)
    for unit in document["interferer"].values():
        level = unit.get("power_dbm_at_receiver", -70)
        unit["power_dbm_at_receiver"] = max(level - less_db, -200)
    quieter = scenario_of(document)
    silent = scenario_of(document | {"interferer": {}})

    assert heard(given) <= heard(quieter) <= heard(silent)


@given(one_plain_transmitter(), st.sampled_from([{}, {"acknowledge": True}]))
@examples(60)
def test_an_air_that_takes_nothing_leaves_every_trace_as_it_was(
    document: dict[str, Any], keys: dict[str, Any]
) -> None:
    unit = document["transmitter"]["drive"] | keys
    unit.pop("place")
    plain = document | {
        "transmitter": {"drive": unit},
        "air": {"loss": document["air"]["loss"]},
        "interferer": {},
    }
    bursts = {"good_ms": 20, "bad_ms": 8, "loss_good": 0, "loss_bad": 0}
    calm = plain | {"air": plain["air"] | {"burst": bursts}}
    near = plain | {"air": plain["air"] | {"range": {"distance_m": 1, "path": "free-space"}}}

    before = simulate(scenario_of(plain))
    for other in (calm, near):
        after = simulate(scenario_of(other))
        for name in ROWS:
            assert getattr(after, name).tolist() == getattr(before, name).tolist(), name
