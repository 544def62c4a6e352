"""Which faults a scenario's parts allow."""

from radiosim.registers.fault_register import FAULT_KINDS
from radiosim.study.drill.drill_kinds import drilled_kinds, drills_of
from tests.study.drill.scenarios import HEAD, TIMER, scenario_with


def test_every_kind_of_fault_but_switching_on_is_drilled_somewhere() -> None:
    assert set(drilled_kinds()) == set(FAULT_KINDS) - {"power_on"}


def test_a_lone_transmitter_is_not_also_drilled_as_all() -> None:
    units = {drill.unit for drill in drills_of(scenario_with())}

    assert units == {"drive", "air", "receiver"}


def test_two_transmitters_are_drilled_one_by_one_and_together() -> None:
    names = [
        drill.unit for drill in drills_of(scenario_with(TIMER + HEAD)) if drill.kind == "power_off"
    ]

    assert names == ["drive", "head", "all"]


def test_kinds_can_be_left_out() -> None:
    assert "hang" not in {drill.kind for drill in drills_of(scenario_with(), ("hang",))}


def test_every_drill_is_made_of_faults_that_a_scenario_may_have() -> None:
    for drill in drills_of(scenario_with(TIMER + HEAD)):
        for unit in drill.units(scenario_with(TIMER + HEAD)):
            fault = f'[[fault]]\nat_s = 1\nkind = "{drill.kind}"\nunit = "{unit}"\n'

            assert len(scenario_with(TIMER + HEAD + fault).fault) == 1
