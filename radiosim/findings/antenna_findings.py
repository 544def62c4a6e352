"""Findings about antennas that turn: a null of the pattern towards the other end (rule C6)."""

from collections.abc import Iterator

import msgspec

from radiosim.engine.plan import Plan, make_plan
from radiosim.engine.plan_rows import Antenna
from radiosim.engine.rules.antennas import antenna_db
from radiosim.engine.simulate import MOST_KEPT_BYTES
from radiosim.errors import TraceError
from radiosim.findings.case import Case, Overrides
from radiosim.findings.proof import WITHOUT_FAULTS, Suspect
from radiosim.radio.antenna import DIPOLE_DBI
from radiosim.registers.fault_kind import RECEIVER
from radiosim.scenario import Scenario
from radiosim.trace import OUT_OF_RANGE
from radiosim.vehicle.feedback import simulate

NOTABLE_DB = 6.0
"""How much less than on average a pattern must give somewhere to be suspected."""
LOW_DB = 3.0
"""So far below its mean a pattern counts as low."""
TIMES = 2.0
"""How much larger a share must be lost where the pattern is low than elsewhere."""
QUARTER_DEG = 90.0


class _Counts(msgspec.Struct, frozen=True, kw_only=True):
    """Attempts of a stream in one start, and those that found a pattern low."""

    lost: int
    lost_low: int
    all: int
    all_low: int

    @property
    def follow(self) -> bool:
        """Whether losses follow the heading: where the pattern is low, far more are lost."""
        lost_else, all_else = self.lost - self.lost_low, self.all - self.all_low
        return self.lost_low * all_else > TIMES * lost_else * self.all_low


def antenna_null(case: Case) -> Iterator[Suspect]:
    """Streams whose attempts are lost out of range while a pattern gives least."""
    scenario, streams = case.scenario, case.summary.figures.stream
    for name in scenario.transmitter:
        if scenario.air.range is None or not streams[name].lost_range:
            continue
        figure = f"stream.{name}.gap_ms.max"
        start = case.starts(figure)[0]
        plan = make_plan(scenario, start)
        for owner in (name, RECEIVER):
            antenna = _antenna(plan, owner)
            if antenna.mean_db - antenna.worst_db < NOTABLE_DB:
                continue
            counts = _counted(case, plan, start, name, antenna)
            if counts.follow:
                yield _suspect(scenario, name, owner, antenna, counts, start)


def _antenna(plan: Plan, owner: str) -> Antenna:
    return plan.rx.antenna if owner == RECEIVER else plan.tx[plan.streams.index(owner)].antenna


def _counted(case: Case, plan: Plan, start: int, name: str, antenna: Antenna) -> _Counts:
    """What became of a stream's attempts, by what the pattern gave as each began."""
    try:
        rows = simulate(
            case.scenario, start=start, engine=case.engine, most_bytes=MOST_KEPT_BYTES
        ).attempts
    except TraceError:  # too long to be kept
        return _Counts(lost=0, lost_low=0, all=0, all_low=0)
    rows = rows[rows["stream"] == plan.streams.index(name)]
    low = [
        antenna_db(antenna, int(at)) <= antenna.mean_db - LOW_DB for at in rows["start_ns"].tolist()
    ]
    is_lost = (rows["fate"] == OUT_OF_RANGE).tolist()
    return _Counts(
        lost=sum(is_lost),
        lost_low=sum(lost and here for lost, here in zip(is_lost, low, strict=True)),
        all=len(low),
        all_low=sum(low),
    )


def _suspect(
    scenario: Scenario, name: str, owner: str, antenna: Antenna, counts: _Counts, start: int
) -> Suspect:
    path = RECEIVER if owner == RECEIVER else f"transmitter.{owner}"
    beyond = "the transmitters" if owner == RECEIVER else "the receiver"
    flat = (f"{path}.antenna.pattern=[[0, {antenna.mean_db:.1f}]]",)
    return Suspect(
        what=f"a null of the antenna of {owner} turns to {beyond}, and {name} is lost while it "
        "points there",
        where=f"{path}.antenna",
        why=f"in start {start}, {counts.lost_low} of {counts.lost} attempts that were "
        f"out of range began while its pattern gave {LOW_DB:g} dB less than its mean or lower, as "
        f"did {counts.all_low} of all {counts.all}; at the worst heading it gives "
        f"{antenna.mean_db - antenna.worst_db:.0f} dB less than its mean",
        figure=f"stream.{name}.gap_ms.max",
        drill=WITHOUT_FAULTS,
        removed=flat,
        cures=tuple(_cures(scenario, owner, path, antenna)),
        advice="a heading that goes all round meets every null: then another antenna helps, no "
        "turning; both ends the same way up, since polarisation is not in the model",
        measure=f"turn {owner} on the spot at the far end and count {name}'s frames at each "
        "heading",
    )


def _cures(scenario: Scenario, owner: str, path: str, antenna: Antenna) -> Iterator[Overrides]:
    """The antenna a quarter further round; a dipole upright, which gives the same all round."""
    yield (f"{path}.antenna.rotation_deg={(antenna.rotation_deg + QUARTER_DEG) % 360:g}",)
    unit = scenario.transmitter.get(owner)
    described = scenario.receiver.antenna if unit is None else unit.antenna
    if described is not None and described.pattern == "half_wave_dipole":
        yield (f"{path}.antenna.pattern=[[0, {DIPOLE_DBI:g}]]",)
