"""What takes long to load is loaded by those who need it alone."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.test_study_pages import COMMANDS
from tests.cli.typed import tiny

LOADED = """
import sys
from radiosim.cli.main import main
try:
    main()
except SystemExit:
    pass
print(*sorted({"matplotlib", "jinja2", "pydantic"} & set(sys.modules)), file=sys.stderr)
"""


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_a_study_without_a_page_loads_nothing_that_draws_or_reads_what_is_not_plain(
    tmp_path: Path, command: str
) -> None:
    more, options = COMMANDS[command]
    words = [command, str(tiny(tmp_path, more)), *map(str, options)]
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *words], capture_output=True, text=True, check=True
    )

    assert done.stdout
    assert done.stderr.split() == []
