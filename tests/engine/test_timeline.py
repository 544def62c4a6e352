"""Faults and boots as steps."""

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from radiosim.engine.plan_rows import STEPS, Step
from radiosim.engine.timeline import FOREVER_NS, FaultEnd, FaultSpan, UnitTimes, ends_of, steps_of
from radiosim.engine.unit_spans import impaired_spans, spans_without
from radiosim.registers.fault_kind import (
    AIR,
    GIVEN_BACK_BY,
    RECEIVER,
    TRANSMITTER,
    WATCHDOG,
    FaultKind,
    Part,
    UnitKind,
)
from radiosim.registers.fault_register import FAULT_KINDS, fault_kind

UNTIL_NS = 10_000


def unit(
    *,
    on_ns: int = 0,
    cold_boot_ns: int = 100,
    warm_boot_ns: int = 30,
    watchdog_ns: int = 0,
    recheck_ns: int = 0,
    radio_survives: bool = True,
    empties_fifo: bool = False,
    power_boot_ns: int | None = None,
) -> UnitTimes:
    return UnitTimes(
        unit=0,
        on_ns=on_ns,
        cold_boot_ns=cold_boot_ns,
        warm_boot_ns=warm_boot_ns,
        radio_start_ns=20,
        watchdog_ns=watchdog_ns,
        recheck_ns=recheck_ns,
        radio_survives=radio_survives,
        empties_fifo=empties_fifo,
        power_boot_ns=power_boot_ns,
    )


def fault_span(kind: str, at_ns: int, for_ns: int | None = None) -> FaultSpan:
    return FaultSpan(
        at_ns=at_ns, until_ns=FOREVER_NS if for_ns is None else at_ns + for_ns, kind=kind
    )


def told(times: UnitTimes, *fault_spans: FaultSpan) -> list[tuple[int, str]]:
    """Steps after the first boot, in words."""
    steps = steps_of(times, fault_spans, UNTIL_NS)
    return [(step.at_ns, STEPS[step.kind].name) for step in steps]


BOOT = [(100, "radio starts"), (100, "program starts")]


def test_radio_and_program_start_when_a_cold_boot_is_over() -> None:
    assert told(unit(on_ns=50)) == [(150, "radio starts"), (150, "program starts")]


def test_a_power_cut_takes_both_until_the_next_boot_is_over() -> None:
    assert told(unit(), fault_span("power_off", 1_000, 500)) == [
        *BOOT,
        (1_000, "program stops"),
        (1_000, "radio stops"),
        (1_600, "radio starts"),
        (1_600, "program starts"),
    ]


def test_power_off_for_good_ends_it() -> None:
    assert told(unit(), fault_span("power_off", 1_000))[2:] == [
        (1_000, "program stops"),
        (1_000, "radio stops"),
    ]


def test_power_on_fault_brings_back_what_was_off() -> None:
    steps = told(unit(), fault_span("power_off", 1_000), fault_span("power_on", 3_000))

    assert steps[-2:] == [(3_100, "radio starts"), (3_100, "program starts")]


def test_power_on_of_what_is_on_is_nothing() -> None:
    assert told(unit(), fault_span("power_on", 3_000)) == BOOT


def test_a_reset_leaves_a_surviving_radio_alone() -> None:
    assert told(unit(), fault_span("reset", 1_000))[2:] == [
        (1_000, "program stops"),
        (1_030, "program starts"),
    ]


def test_a_boot_empties_the_fifo_of_a_surviving_radio_if_it_says_so() -> None:
    assert told(unit(empties_fifo=True), fault_span("reset", 1_000))[2:] == [
        (1_000, "program stops"),
        (1_030, "fifo emptied"),
        (1_030, "program starts"),
    ]


def test_a_reset_takes_a_radio_that_does_not_survive_through_a_cold_boot() -> None:
    assert told(unit(radio_survives=False), fault_span("reset", 1_000))[2:] == [
        (1_000, "program stops"),
        (1_000, "radio stops"),
        (1_100, "radio starts"),
        (1_100, "program starts"),
    ]


def test_a_reset_while_booting_starts_the_boot_again() -> None:
    steps = told(unit(), fault_span("reset", 1_000), fault_span("reset", 1_020))

    assert steps[2:] == [(1_000, "program stops"), (1_050, "program starts")]


def test_a_reset_does_not_cut_a_power_on_short() -> None:
    assert told(unit(), fault_span("reset", 10)) == BOOT
    assert told(unit(), fault_span("reset", 90))[0] == (120, "radio starts")


def test_a_reset_while_a_power_on_is_slow_boots_as_a_reset_does() -> None:
    # From power-on 80 of the program, of 100 in all; from a reset 30, so 50 in all.
    assert told(unit(power_boot_ns=80)) == BOOT
    assert told(unit(power_boot_ns=80), fault_span("reset", 10))[0] == (50, "radio starts")
    assert told(unit(power_boot_ns=80), fault_span("reset", 60))[0] == (90, "radio starts")
    assert told(unit(power_boot_ns=80, radio_survives=False), fault_span("reset", 1_000))[4:] == [
        (1_050, "radio starts"),
        (1_050, "program starts"),
    ]


@pytest.mark.parametrize("survives", [True, False])
def test_power_that_comes_in_a_brownout_boots_as_from_power_on(survives: bool) -> None:
    slow = unit(power_boot_ns=80, radio_survives=survives)
    low, off = fault_span("brownout", 900, 600), fault_span("power_off", 1_000, 300)

    # Power is back at 1300, and high enough at 1500.
    assert told(slow, low, off)[-1] == (1_580 if survives else 1_600, "program starts")
    # A reset after that is one like all others.
    again = told(slow, low, off, fault_span("reset", 3_000))
    assert again[-1] == (3_030 if survives else 3_050, "program starts")


def test_a_brownout_holds_the_program_until_it_is_over() -> None:
    assert told(unit(), fault_span("brownout", 1_000, 400))[2:] == [
        (1_000, "program stops"),
        (1_430, "program starts"),
    ]


def test_a_hang_pauses_and_resumes() -> None:
    assert told(unit(), fault_span("hang", 1_000, 400))[2:] == [
        (1_000, "program pauses"),
        (1_400, "program resumes"),
    ]


def test_a_watchdog_resets_a_hung_program() -> None:
    assert told(unit(watchdog_ns=250), fault_span("hang", 1_000))[2:] == [
        (1_000, "program pauses"),
        (1_250, "program stops"),
        (1_280, "program starts"),
    ]


def test_a_hang_that_is_over_in_time_wakes_no_watchdog() -> None:
    assert told(unit(watchdog_ns=250), fault_span("hang", 1_000, 200))[2:] == [
        (1_000, "program pauses"),
        (1_200, "program resumes"),
    ]


def test_a_radio_that_lost_its_settings_stays_dead_without_a_recheck() -> None:
    assert told(unit(), fault_span("radio_reset", 1_000))[2:] == [(1_000, "radio stops")]


def test_the_next_recheck_sets_the_radio_up_again() -> None:
    # Rechecks come at 100 + 300·k.
    assert told(unit(recheck_ns=300), fault_span("radio_reset", 1_050))[2:] == [
        (1_050, "radio stops"),
        (1_320, "radio starts"),
    ]


def test_a_hung_program_rechecks_only_when_it_goes_on() -> None:
    steps = told(
        unit(recheck_ns=300), fault_span("hang", 900, 500), fault_span("radio_reset", 1_050)
    )

    assert steps[-2:] == [(1_400, "program resumes"), (1_620, "radio starts")]


def test_a_boot_gives_rechecks_a_new_grid() -> None:
    # Rechecks come at 100 + 300·k, after the reset at 2,030 + 300·k: not at 2,200 any more.
    times, lost = unit(recheck_ns=300), fault_span("radio_reset", 1_950)
    steps = told(times, lost, fault_span("reset", 2_000), fault_span("radio_reset", 2_050))

    assert steps[-2:] == [(2_050, "radio stops"), (2_350, "radio starts")]


def test_a_look_is_missed_while_the_program_hangs_and_taken_when_it_goes_on() -> None:
    # The look at 1,300 is missed; that at 1,600 falls due as the program goes on.
    steps = told(
        unit(recheck_ns=300), fault_span("hang", 1_200, 400), fault_span("radio_reset", 1_150)
    )

    assert steps[-2:] == [(1_600, "program resumes"), (1_620, "radio starts")]


def test_any_boot_sets_the_radio_up_again() -> None:
    steps = told(unit(), fault_span("radio_reset", 1_000), fault_span("reset", 2_000))

    assert steps[-2:] == [(2_030, "radio starts"), (2_030, "program starts")]


def test_values_freeze_and_thaw() -> None:
    assert told(unit(), fault_span("stale", 1_000, 400))[2:] == [
        (1_000, "values freeze"),
        (1_400, "values thaw"),
    ]


def test_nothing_happens_at_the_end_or_after_it() -> None:
    assert told(unit(), fault_span("reset", UNTIL_NS)) == BOOT


def test_impaired_from_the_start_to_the_boot_and_in_every_fault() -> None:
    fault_spans = [fault_span("power_off", 1_000, 500), fault_span("hang", 3_000, 100)]
    steps = steps_of(unit(), fault_spans, UNTIL_NS)

    assert impaired_spans(steps, UNTIL_NS) == ((0, 100), (1_000, 1_600), (3_000, 3_100))


def test_a_reset_that_is_over_at_once_is_a_span_of_no_length() -> None:
    steps = steps_of(unit(warm_boot_ns=0), [fault_span("reset", 1_000)], UNTIL_NS)

    assert impaired_spans(steps, UNTIL_NS) == ((0, 100), (1_000, 1_000))


def test_impaired_for_good_lasts_to_the_end() -> None:
    steps = steps_of(unit(), [fault_span("radio_reset", 1_000)], UNTIL_NS)

    assert impaired_spans(steps, UNTIL_NS)[-1] == (1_000, UNTIL_NS)


kinds = tuple(row.name for row in FAULT_KINDS.values() if set(row.units) & {TRANSMITTER, RECEIVER})
fault_spans = st.builds(
    fault_span,
    st.sampled_from(kinds),
    st.integers(0, 200).map(lambda tick: tick * 50),
    st.none() | st.integers(0, 40).map(lambda tick: tick * 50),
)
units = st.builds(
    unit,
    watchdog_ns=st.sampled_from([0, 150, 2_000]),
    recheck_ns=st.sampled_from([0, 250]),
    radio_survives=st.booleans(),
    empties_fifo=st.booleans(),
    warm_boot_ns=st.sampled_from([0, 50, 100]),
)

# What must hold of a unit (program, radio, values) before a step, and what holds after it.
BEFORE = {
    "program starts": ("off", None),
    "program pauses": ("runs", None),
    "program resumes": ("hangs", None),
    "radio starts": (None, False),
    "radio stops": (None, True),
    "fifo emptied": (None, True),
}
PROGRAM_AFTER = {
    "program starts": "runs",
    "program stops": "off",
    "program pauses": "hangs",
    "program resumes": "runs",
}


def follows(steps: tuple[Step, ...]) -> bool:
    program, radio, last_ns = "off", False, 0
    for step in steps:
        name = STEPS[step.kind].name
        wanted_program, wanted_radio = BEFORE.get(name, (None, None))
        if wanted_program not in (None, program) or wanted_radio not in (None, radio):
            return False
        if (name == "program stops" and program == "off") or step.at_ns < last_ns:
            return False
        program = PROGRAM_AFTER.get(name, program)
        radio = {"radio starts": True, "radio stops": False}.get(name, radio)
        last_ns = step.at_ns
    return True


@given(units, st.lists(fault_spans, max_size=6))
def test_steps_follow_from_each_other(times: UnitTimes, drawn: list[FaultSpan]) -> None:
    steps = steps_of(times, drawn, UNTIL_NS)

    assert follows(steps)
    assert all(step.at_ns < UNTIL_NS for step in steps)


@given(units, st.lists(fault_spans, min_size=1, max_size=6))
def test_a_fault_that_would_end_just_after_its_end_does_the_same(
    times: UnitTimes, drawn: list[FaultSpan]
) -> None:
    steps = steps_of(times, drawn, UNTIL_NS)
    for place, (span, end) in enumerate(zip(drawn, ends_of(times, drawn), strict=True)):
        assert span.at_ns <= end.at_ns <= max(span.until_ns, span.at_ns)
        if fault_kind(span.kind).is_lasting and end.at_ns < span.until_ns:
            cut = replace(span, until_ns=end.at_ns + 1)
            assert steps_of(times, [*drawn[:place], cut, *drawn[place + 1 :]], UNTIL_NS) == steps


def test_a_boot_ends_a_hang_and_a_watchdog_says_so() -> None:
    hang = fault_span("hang", 1_000)

    assert ends_of(unit(), [hang]) == (FaultEnd(at_ns=FOREVER_NS),)
    assert ends_of(unit(), [hang, fault_span("reset", 1_500)])[0] == FaultEnd(at_ns=1_500)
    assert ends_of(unit(watchdog_ns=300), [hang]) == (FaultEnd(at_ns=1_300, is_bitten=True),)
    assert ends_of(unit(), [fault_span("stale", 1_000), fault_span("reset", 1_500)])[0] == FaultEnd(
        at_ns=1_530
    )


@given(units, st.lists(fault_spans, max_size=6))
def test_impaired_spans_are_in_order_and_apart(times: UnitTimes, drawn: list[FaultSpan]) -> None:
    spans = impaired_spans(steps_of(times, drawn, UNTIL_NS), UNTIL_NS)
    edges = [edge for span in spans for edge in span]

    assert edges == sorted(edges)
    assert all(0 <= edge <= UNTIL_NS for edge in edges)


def test_faults_of_one_kind_that_overlap_last_until_the_later_end() -> None:
    off = (fault_span("power_off", 1_000, 500), fault_span("power_off", 1_200, 2_000))
    hang = (fault_span("hang", 1_000, 2_000), fault_span("hang", 1_200, 100))

    assert told(unit(), *off)[-1] == (3_300, "program starts")
    assert told(unit(), *hang)[-1] == (3_000, "program resumes")
    stale = (fault_span("stale", 1_000, 2_000), fault_span("stale", 1_200, 100))
    assert told(unit(), *stale)[-1] == (3_000, "values thaw")


def test_the_end_of_a_hang_that_a_watchdog_cut_short_does_not_end_the_next() -> None:
    steps = told(
        unit(watchdog_ns=300), fault_span("hang", 1_000, 2_000), fault_span("hang", 2_900, 250)
    )

    assert steps[-2:] == [(2_900, "program pauses"), (3_150, "program resumes")]


def test_a_hang_in_the_boot_makes_it_longer() -> None:
    assert told(unit(), fault_span("hang", 60, 500)) == [
        (600, "radio starts"),
        (600, "program starts"),
    ]


def test_a_power_cut_before_the_unit_is_switched_on_is_nothing() -> None:
    assert told(unit(on_ns=1_000), fault_span("power_off", 200, 300)) == [
        (1_100, "radio starts"),
        (1_100, "program starts"),
    ]


def test_a_boot_thaws_frozen_values() -> None:
    steps = told(unit(), fault_span("stale", 500), fault_span("reset", 700))

    assert steps[2:] == [
        (500, "values freeze"),
        (700, "program stops"),
        (730, "values thaw"),
        (730, "program starts"),
    ]


def made_up(takes: tuple[str, ...], name: str) -> FaultKind:
    """A kind of fault that takes several things, and gives them back in the order of its name."""

    def begins(unit: object, at_ns: int) -> None:
        for what in takes:
            getattr(unit, what)(at_ns)

    def ends(unit: object, at_ns: int) -> None:
        for what in reversed(takes) if name.startswith("back") else takes:
            getattr(unit, GIVEN_BACK_BY[what])(at_ns)

    of: UnitKind = AIR if takes == ("jam",) else TRANSMITTER
    like = FAULT_KINDS["hang"]
    return replace(
        like,
        name=name,
        units=(of,),
        begins=begins,
        ends=ends,
        drilled=(),
        ended_by=("power_on", WATCHDOG),
    )


OF_UNITS = tuple(what for what in GIVEN_BACK_BY if what != "jam")
TAKEN = {
    f"{order} {' '.join(takes)}": takes
    for order in ("forth", "back")
    for takes in (
        *(takes for count in (1, 2, 3) for takes in combinations(OF_UNITS, count)),
        ("jam",),
    )
}
"""Names of made-up kinds → what they take of a unit."""
BOOTS = {"power_off", "hold_in_reset"}
ENDED_BY_A_BOOT = {"hang", "freeze_values"}
BOOT_NS = 100


@contextmanager
def kinds_made_up() -> Iterator[None]:
    """The register, with the made-up kinds."""
    with pytest.MonkeyPatch.context() as patch:
        for name, takes in TAKEN.items():
            patch.setitem(FAULT_KINDS, name, made_up(takes, name))
        yield


def parts_taken(what: str) -> set[Part]:
    """Parts of a unit that are not well after one thing is done to it."""
    begun = steps_of(unit(), [fault_span(f"forth {what}", 1_000)], UNTIL_NS)[len(BOOT) :]
    parts = [STEPS[step.kind].part for step in begun]
    return {part for part in parts if part is not None}


def is_booted_away(what: str, span: FaultSpan, others: list[FaultSpan]) -> bool:
    """Whether a boot ends what a fault takes, or what it would take is not there."""
    return what in ENDED_BY_A_BOOT and any(
        set(TAKEN[other.kind]) & BOOTS
        and other.at_ns <= span.until_ns
        and span.at_ns <= other.until_ns + BOOT_NS
        for other in others
    )


lasting = st.builds(
    fault_span,
    st.sampled_from(tuple(TAKEN)),
    st.integers(10, 60).map(lambda tick: tick * 50),
    st.integers(1, 60).map(lambda tick: tick * 50),
)


@given(st.booleans(), st.lists(lasting, min_size=2, max_size=4))
def test_the_end_of_a_fault_takes_back_nothing_that_another_still_takes(
    radio_survives: bool, drawn: list[FaultSpan]
) -> None:
    with kinds_made_up():
        steps = steps_of(unit(radio_survives=radio_survives), drawn, UNTIL_NS)
        taken = {what: parts_taken(what) for what in GIVEN_BACK_BY}

    for span in drawn:
        for what in TAKEN[span.kind]:
            if is_booted_away(what, span, drawn):
                continue
            for part in taken[what]:
                assert any(
                    from_ns <= span.at_ns and span.until_ns <= until_ns
                    for from_ns, until_ns in spans_without([part], steps, UNTIL_NS)
                )
    last_ns = max(span.until_ns for span in drawn)
    assert all(step.at_ns <= last_ns + BOOT_NS for step in steps)
    assert all(until_ns <= last_ns + BOOT_NS for _, until_ns in impaired_spans(steps, UNTIL_NS))


LEAVES, CUTS = "forth leave", "forth power_off"


def test_two_kinds_that_take_one_thing_give_it_back_with_the_later_end() -> None:
    with kinds_made_up():
        away = told(
            unit(), fault_span("out_of_range", 4_000, 4_000), fault_span(LEAVES, 5_000, 900)
        )
        off = told(unit(), fault_span("power_off", 1_000, 500), fault_span(CUTS, 1_200, 2_000))

    assert away[2:] == [(4_000, "goes out of range"), (8_000, "comes into range")]
    assert off[-1] == (3_300, "program starts")


def test_power_restored_in_a_brownout_boots_when_the_brownout_is_over() -> None:
    low, off = fault_span("brownout", 1_000, 3_000), fault_span("power_off", 2_000, 500)
    back = [(4_030, "radio starts"), (4_030, "program starts")]

    assert told(unit(), low, off)[2:] == [
        (1_000, "program stops"),
        (2_000, "radio stops"),
        *back,
    ]
    by_hand = fault_span("power_on", 2_200)
    assert told(unit(), low, fault_span("power_off", 2_000), by_hand)[-2:] == back


def test_a_fault_that_something_ended_before_its_time_holds_no_later_one() -> None:
    off = (fault_span("power_off", 1_000, 7_000), fault_span("power_on", 2_000))
    hang = fault_span("hang", 1_000)

    assert told(unit(), *off, fault_span("power_off", 3_000, 500))[-1] == (3_600, "program starts")
    steps = told(unit(watchdog_ns=250), hang, fault_span("hang", 3_000, 200))
    assert steps[-2:] == [(3_000, "program pauses"), (3_200, "program resumes")]


def test_a_brownout_before_the_unit_is_switched_on_is_nothing() -> None:
    assert told(unit(on_ns=1_000), fault_span("brownout", 200, 3_000)) == [
        (1_100, "radio starts"),
        (1_100, "program starts"),
    ]
