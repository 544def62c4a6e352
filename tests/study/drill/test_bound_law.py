"""Law: no drill of any scenario takes longer than the bound (rule F6)."""

from hypothesis import HealthCheck, given

from radiosim.scenario import parse
from tests.examples import examples
from tests.study.drill.scenarios import drilled, texts


@given(text=texts())
@examples(25, suppress_health_check=[HealthCheck.too_slow])
def test_no_drill_takes_longer_than_the_bound(text: str) -> None:
    for drill in drilled(parse(text), repeats=8, hours=0.001).drills:
        if drill.bound_ms is not None and drill.silence_ms.max is not None:
            assert drill.silence_ms.max <= drill.bound_ms
        # What has a bound is never still driven, and what has none never holds.
        assert drill.bound_ms is None or not drill.still_driven
        assert drill.bound_ms is not None or drill.verdict != "holds"
