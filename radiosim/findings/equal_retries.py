"""Two acknowledged transmitters that collide again at every retry."""

from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.engine.stratification import window_ns
from radiosim.findings.case import Case
from radiosim.findings.pairs import Pair, both, pairs, plan_of
from radiosim.findings.suspect import Suspect
from radiosim.radio.retry_delay import with_step
from radiosim.units import NS_PER_US

STEP_US = 250


def suspects(case: Case) -> Iterator[Suspect]:
    """Pairs whose retry delays are too close for their frames to come apart."""
    scenario, plan = case.scenario, plan_of(case)
    for pair in pairs(scenario):
        units = [scenario.transmitter[name] for name in pair]
        window_us = window_ns(*both(plan, pair)) / NS_PER_US
        delays_us = [unit.retry_delay_us for unit in units]
        is_close = abs(delays_us[0] - delays_us[1]) < window_us
        if not is_close or any(u.acknowledge is not True or not u.retry_limit for u in units):
            continue
        name = _most_given_up(case, pair)
        figures = case.summary.figures.stream[name]
        if not figures.retries_used_up or not figures.lost_collision:
            continue
        steps = int(window_us // STEP_US) + 1
        apart = f"transmitter.{pair[1]}.retry_delay_us={max(delays_us) + steps * STEP_US:g}"
        yield Suspect(
            what=f"{pair[0]} and {pair[1]} retry after the same delay, so that frames which "
            "collided collide again",
            where=f"transmitter.{pair[1]}.retry_delay_us",
            why=f"delays of {with_step(delays_us[0])} and {with_step(delays_us[1])}; the frames "
            "come apart only "
            f"from {window_us:.0f} us on; {name} gave up "
            f"{counted(figures.retries_used_up, 'frame')}",
            figure=f"stream.{name}.retries_used_up",
            removed=(apart,),
            cures=((apart,),),
            advice=f"{with_step(max(delays_us) + steps * STEP_US)}, at least {steps} steps of "
            f"{STEP_US} us from the other",
            measure="count the frames that each transmitter gives up while both run",
        )


def _most_given_up(case: Case, pair: Pair) -> str:
    return max(pair, key=lambda name: case.summary.figures.stream[name].retries_used_up)
