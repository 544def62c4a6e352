"""What a tuning recommends, against runs of the same draws, over links at random."""

import itertools
from collections.abc import Mapping, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.measure.figures import flat
from radiosim.report.tune import tune_report
from radiosim.results.terminal import plain_text
from radiosim.scenario import Scenario, parse
from radiosim.scenario.changed import changed
from radiosim.study.starts import simulate_starts
from radiosim.study.tune.choice import lines_of
from radiosim.study.tune.guard import KEEPS_UP, guarded_of, stream_of
from radiosim.study.tune.point import figures_at_point, with_requirements
from radiosim.study.tune.put_back import explains
from radiosim.study.tune.rank import ALIKE, Aim
from radiosim.study.tune.tune_results import Tried, Tuned
from radiosim.study.tune.tuned import tune_scenario
from tests.examples import examples
from tests.report.reports import origin_of
from tests.study.tune.random_links import varied_links

LOWER_IS_WORSE = "update_rate_hz"
HIGHER_IS_WORSE = ("age_ms.mean", "age_ms.p99", "gap_ms.max")
BY = 0.025
"""More than this is worse to anybody."""


def tune(link: Scenario, vary: Sequence[str], prefer: Sequence[str] = ()) -> Tuned:
    return tune_scenario(link, link, vary=vary, prefer=prefer, workers=1)


def figures(link: Scenario, lines: Sequence[str] = ()) -> tuple[Mapping[str, float], ...]:
    """Of a run: of the worst start, and of all together."""
    summary = simulate_starts(changed(link, lines), workers=1)
    together = flat(summary.figures)
    worst = {path: entry.value for path, entry in summary.worst.items()}
    return worst or together, together


def worse_streams(link: Scenario, lines: Sequence[str]) -> set[str]:
    """Streams that get less, or later, than as it stands."""
    found = set()
    for now, here in zip(figures(link), figures(link, lines), strict=True):
        for name in link.transmitter:
            for figure in (LOWER_IS_WORSE, *HIGHER_IS_WORSE):
                path = f"stream.{name}.{figure}"
                if path in now and (path not in here or is_worse(figure, now[path], here[path])):
                    found.add(name)
    return found


def is_worse(figure: str, now: float, here: float) -> bool:
    if figure == LOWER_IS_WORSE:
        return here < now * (1 - BY)
    return here > now * (1 + BY)


def asked_nothing(link: Scenario) -> set[str]:
    """Streams without any requirement."""
    asked = {stream_of(requirement.figure, link) for requirement in link.requirement}
    return set(link.transmitter) - asked


def judged_points(found: Tuned) -> list[Tried]:
    """All points, the scenario as it stands among them."""
    points = [*found.points, *found.put_back, found.as_it_stands]
    return [point for point in points if point.figures is not None]


@given(varied_links())
@examples(20, deadline=None)
def test_of_a_few_links_every_law_holds(case: tuple[Scenario, tuple[str, ...]]) -> None:
    check_every_law(case)


@pytest.mark.slow
@given(varied_links())
@examples(20, deadline=None)
def test_of_many_links_every_law_holds(case: tuple[Scenario, tuple[str, ...]]) -> None:
    check_every_law(case)


def check_every_law(case: tuple[Scenario, tuple[str, ...]]) -> None:
    """One tuning for all of them."""
    link, vary = case
    found = tune(link, vary)

    check_guarded(link, found)
    check_changes(link, found)
    check_ties(found)


def check_guarded(link: Scenario, found: Tuned) -> None:
    assert found.recommended is not None
    assert found.best is not None
    named = {entry.stream for entry in found.recommended.worse}
    lines = lines_of(found.settings, found.recommended.values)
    worse = asked_nothing(link) & worse_streams(link, lines)
    screen = " ".join(plain_text(tune_report(found, origin_of("tune"))).split())

    assert worse <= named
    assert named <= set(found.guarded)
    assert ("Made WORSE" in screen) == bool(named)
    for entry in found.recommended.worse:
        assert entry.figure in screen
    if named:
        # Nothing that holds as much does without: neither here nor, first of all, as it stands.
        aim = Aim(own=found.as_it_stands)
        grade = aim.grade(found.best)
        assert not any(aim.grade(p) < grade and not p.worse for p in judged_points(found))
        assert not found.as_it_stands.ok or found.as_it_stands.beating
    else:
        kept = "no worse here than as it stands" in screen
        assert kept == bool(found.guarded)


def check_changes(link: Scenario, found: Tuned) -> None:
    best, aim = found.best, Aim(own=found.as_it_stands)
    assert found.recommended is not None
    assert best is not None
    asked, _ = with_requirements(link)

    changes = {change.key: found.at(change.without) for change in found.recommended.changes}
    for setting, now, to in zip(
        found.settings, found.as_it_stands.values, best.values, strict=True
    ):
        share = found.influence.get(setting.key)
        if setting.key not in changes:
            assert to == now
            continue
        without = changes[setting.key]
        if without.figures is None:
            continue
        lines = lines_of(found.settings, without.values)
        again = figures_at_point(changed(asked, lines), "auto", None)
        assert again.margin == without.judged.margin
        is_less = aim.grade(without) > aim.grade(best)
        # By more than a hundredth of a limit; by more than a twentieth if its share is nil.
        at_least = 0.05 - ALIKE if share is not None and not explains(share) else 0.0
        assert is_less or best.judged.margin - without.judged.margin > at_least
        assert share is None or share.total != 0


def check_ties(found: Tuned) -> None:
    best = found.best
    assert found.recommended is not None
    assert best is not None
    others = {p.values: p for p in (*found.points, found.as_it_stands) if p.figures is not None}
    alike = [
        values
        for values, point in others.items()
        if values != best.values
        and abs(point.judged.margin - best.judged.margin) <= ALIKE
        and (point.ok, bool(point.beating), bool(point.worse), point.judged.missed)
        == (best.ok, bool(best.beating), bool(best.worse), best.judged.missed)
    ]

    assert found.recommended.ties == len(alike)
    screen = plain_text(tune_report(found, origin_of("tune")))
    assert ("A TIE" in screen) == bool(alike)


PLAIN = """
radio.profile = "gfsk-1M"
duration_s = 3
starts = 2
air.loss = 0
receiver = { read = "all", loop_ms = 0.5 }
transmitter.drive = { period_ms = 20, payload_bytes = 6, acknowledge = false, clock_ppm = 0 }
requirement = [{ figure = "stream.drive.gap_ms.max", at_most = 1000 }]
"""


@given(st.lists(st.integers(2, 200), min_size=2, max_size=5, unique=True))
@examples(20, deadline=None)
def test_a_longer_period_is_a_longer_latency(periods_ms: list[int]) -> None:
    text = ",".join(map(str, sorted(periods_ms)))
    found = tune(parse(PLAIN), [f"transmitter.drive.period_ms={text}"])
    ages = [(p.judged.age_mean_ms, p.judged.age_p99_ms) for p in found.points]

    for (mean, p99), (mean_after, p99_after) in itertools.pairwise(ages):
        assert mean is not None
        assert mean_after is not None
        # Which part of a last period a start still sees is chance: a hundredth.
        assert mean < mean_after * 1.01
        assert p99 is not None
        assert p99_after is not None
        # Quantiles are known to 1.1 %.
        assert p99 < p99_after * 1.012
    for period_ms, (mean, _) in zip(sorted(periods_ms), ages, strict=True):
        # Half a period, and what the frame and the pass take.
        assert mean == pytest.approx(period_ms / 2 + 0.5, abs=0.5 + 0.01 * period_ms)


@pytest.mark.slow
@given(varied_links())
@examples(8, deadline=None)
def test_what_is_preferred_gains_and_what_becomes_worse_in_return_is_named(
    case: tuple[Scenario, tuple[str, ...]],
) -> None:
    link, vary = case
    first = next(iter(link.transmitter))
    plain, found = tune(link, vary), tune(link, vary, [first])
    assert found.recommended is not None
    assert found.best is not None
    lines = lines_of(found.settings, found.recommended.values)
    worse = asked_nothing(link) & worse_streams(link, lines)
    named = {entry.stream for entry in found.recommended.worse}
    in_return = {entry.stream for entry in found.recommended.in_return}

    assert set(found.guarded) <= {first}
    assert worse <= named | in_return
    assert first not in in_return
    screen = " ".join(plain_text(tune_report(found, origin_of("tune"))).split())
    assert f"{first} comes first, as asked." in screen
    assert ("Worse in return" in screen) == bool(in_return)
    # Nothing that does as well without it gives the preferred stream more.
    aim = Aim(own=found.as_it_stands, prefer=(first,))
    assert plain.best is not None
    if not plain.best.worse and aim.grade(plain.best) == aim.grade(found.best):
        assert aim.score(found.best) >= aim.score(plain.best) - 0.05 - 1e-9


def test_only_a_limit_on_how_often_values_come_keeps_a_stream_up() -> None:
    text = PLAIN.replace("stream.drive.gap_ms.max", "stream.drive.%s")

    for figure in ("latency_ms.p99", "delivery_ratio", "duty_cycle"):
        assert guarded_of(parse(text % figure)) == ("drive",)
    for figure in ("gap_ms.p99", "age_ms.mean", "update_rate_hz"):
        assert figure.split(".")[0] in KEEPS_UP
        assert guarded_of(parse(text % figure)) == ()
