"""What a first run leaves behind for the next one."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.typed import tiny


@pytest.mark.slow
def test_a_second_run_makes_no_code_and_says_nothing_on_standard_error(tmp_path: Path) -> None:
    pytest.importorskip("llvmlite")
    cache = tmp_path / "cache"

    def ran() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "radiosim", "run", tiny(tmp_path), "--json", "-"],
            env={**os.environ, "XDG_CACHE_HOME": str(cache)},
            capture_output=True,
            text=True,
            check=True,
        )

    def kept() -> dict[str, int]:
        return {path.name: path.stat().st_mtime_ns for path in cache.rglob("*") if path.is_file()}

    first, made = ran(), kept()
    second = ran()

    assert first.stderr == "compiling the engine, this once: some seconds\n"
    assert second.stderr == ""
    assert made
    assert kept() == made
    assert second.stdout == first.stdout
