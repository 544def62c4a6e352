"""Law: no drill of any scenario takes longer than the bound (rule F6)."""

from hypothesis import HealthCheck, given

from radiosim.engine.plan import make_plan
from radiosim.measure.summarise import reactions_of
from radiosim.scenario import parse
from radiosim.study.drill.trade_off import worst_reaction_ms
from radiosim.vehicle.reaction_bound import with_slowest_clock
from tests.examples import examples
from tests.study.drill.scenarios import drilled, texts


@given(text=texts())
@examples(15, suppress_health_check=[HealthCheck.too_slow])
def test_no_drill_takes_longer_than_the_bound(text: str) -> None:
    for drill in drilled(parse(text), repeats=8, hours=0.001).drills:
        if drill.bound_ms is not None and drill.silence_ms.max is not None:
            assert drill.silence_ms.max <= drill.bound_ms
        # What has a bound is never still driven, and what has none never holds.
        assert drill.bound_ms is None or not drill.still_driven
        assert drill.bound_ms is not None or drill.verdict != "holds"


@given(text=texts())
@examples(200)
def test_an_output_without_a_bound_has_none_in_any_result(text: str) -> None:
    scenario = parse(text)
    reactions = reactions_of(scenario, make_plan(with_slowest_clock(scenario), 0))

    for stream, reaction in reactions.items():
        unbounded = {name for name, bound_ms in reaction.bound_ms.items() if bound_ms is None}

        assert unbounded == set(reaction.why)
        assert all(reaction.stopping_ms.get(name) is None for name in unbounded)
        if unbounded == set(reaction.bound_ms):
            assert reaction.terms_ms == {}
            assert worst_reaction_ms(scenario, stream) is None
