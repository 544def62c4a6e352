"""Law: no drill of any scenario takes longer than the bound (rule F6)."""

from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from radiosim.scenario import Scenario, parse
from tests.examples import examples
from tests.study.drill.scenarios import BASE, HEAD, drilled

ACTIONS = ("{ preset_us = 1500 }", '"off"', '"hold"')


@st.composite
def scenarios(draw: st.DrawFn) -> Scenario:
    """Receiver programs, timers and outputs of all kinds; times in odd and even numbers."""
    kind = draw(st.sampled_from(("servo", "pwm", "pin")))
    action = draw(st.sampled_from(ACTIONS))
    if kind != "servo":
        action = action.replace("preset_us = 1500", "preset = 0")
    motor = draw(st.sampled_from(("", "motor = { stop_s = 0.2, signal_loss_ms = 130 }\n")))
    receiver = (
        f'[receiver]\nread = "{draw(st.sampled_from(("one", "all", "newest")))}"\n'
        f"interrupt = {draw(st.sampled_from(('true', 'false')))}\n"
        f"loop_ms = {draw(st.sampled_from((0.7, 1, 5, 13, 50)))}\n"
        f'clock = "{draw(st.sampled_from(("crystal", "internal")))}"\n'
        f"watchdog_ms = {draw(st.sampled_from((0, 150)))}\n"
        f"work = {draw(st.sampled_from(('[]', '[{ every_ms = 70, takes_ms = 9 }]')))}\n"
    )
    timer = (
        f"[failsafe.drive]\ntimeout_ms = {draw(st.sampled_from((60, 101.3, 250, 400)))}\n"
        f'fed_by = "{draw(st.sampled_from(("own", "any")))}"\n'
        f'fed_at = "{draw(st.sampled_from(("read", "arrival")))}"\n'
        f'watch_field = "{draw(st.sampled_from(("", "count")))}"\n'
    )
    output = (
        f'[output.second]\nstream = "drive"\nfield = "pull"\nkind = "{kind}"\n'
        f"on_failsafe = {action}\n{motor}"
    )
    head = draw(st.sampled_from(("", HEAD)))
    loss = draw(st.sampled_from((0, 0.02, 0.4)))
    text = BASE.replace("air.loss = 0.02", f"air.loss = {loss}").replace(
        "period_ms = 20", f"period_ms = {draw(st.sampled_from((9.7, 20, 33)))}"
    )
    return parse(text + receiver + timer + output + head)


@given(scenario=scenarios())
@examples(25, suppress_health_check=[HealthCheck.too_slow])
def test_no_drill_takes_longer_than_the_bound(scenario: Scenario) -> None:
    for drill in drilled(scenario, repeats=8, hours=0.001).drills:
        if drill.bound_ms is not None and drill.silence_ms.max is not None:
            assert drill.silence_ms.max <= drill.bound_ms
        # What has a bound is never still driven.
        assert drill.bound_ms is None or not drill.still_driven
