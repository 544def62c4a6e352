"""A transmitter that takes more of the medium than rules often allow; a caution, never advice."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.suspect import Suspect
from radiosim.radio.band import MEDIUM_USE_FROM_DBM, MEDIUM_USE_LIMIT, medium_use


def suspects(case: Case) -> Iterator[Suspect]:
    """Transmitters above 10 dBm whose power times duty is over a tenth of 100 mW (EN 300 328)."""
    for name, unit in case.scenario.transmitter.items():
        duty = case.summary.figures.stream[name].duty_cycle or 0.0
        use = medium_use(unit.power_dbm, duty)
        if unit.power_dbm <= MEDIUM_USE_FROM_DBM or use <= MEDIUM_USE_LIMIT:
            continue
        pace = "pause_ms" if unit.pacing == "after_send" else "period_ms"
        before_ms = getattr(unit, pace) or 1.0
        slower = f"transmitter.{name}.{pace}={before_ms * use / MEDIUM_USE_LIMIT:.3g}"
        yield Suspect(
            what=f"{name} is on the air for longer than rules often allow at its power",
            where=f"transmitter.{name}.{pace}",
            why=f"{100 * duty:.1f} % of the time at {unit.power_dbm:g} dBm are {100 * use:.0f} % "
            f"of the medium; {100 * MEDIUM_USE_LIMIT:.0f} % are a common limit above "
            f"{MEDIUM_USE_FROM_DBM:g} dBm for transmitters that do not listen first",
            figure=f"stream.{name}.duty_cycle",
            removed=(slower,),
            cures=((slower,),),
            advice="or send with less power, or shorter frames; check your local radio rules",
            measure="watch the supply current of the transmitter: the share of the time in its "
            "peaks",
            is_certain=True,
        )
