"""Commands as a user types them, inside this process."""

from dataclasses import dataclass
from pathlib import Path

from typer.testing import CliRunner

from radiosim.cli.app import app
from radiosim.cli.console import UNFORESEEN

TINY = """
title = "Tiny"
starts = 2
duration_s = 2
radio.profile = "gfsk-1M"
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6 }
failsafe.drive = { timeout_ms = 250 }
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What a command did."""

    code: int
    out: str
    err: str


def typed(*arguments: str | Path) -> Typed:
    """Run a command; an error that it does not handle fails the test."""
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code != UNFORESEEN, result.stderr
    return Typed(code=result.exit_code, out=result.stdout, err=result.stderr)


def tiny(folder: Path, more: str = "") -> Path:
    """A scenario file of two short starts."""
    path = folder / "tiny.toml"
    path.write_text(TINY + more, encoding="utf-8")
    return path
