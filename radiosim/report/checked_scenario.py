"""What `radiosim validate` has found."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedScenario:
    """What reading one scenario has shown; the names are those of `--json`."""

    source: str
    ok: bool
    problems: tuple[str, ...] = ()
    cannot_work: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    retries: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
