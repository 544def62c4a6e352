"""Which files a scenario is read from."""

import os
from pathlib import Path

from radiosim.scenario.named_layout import NAMING, files_of_header, files_of_scenario
from radiosim.scenario.schema import keys


def test_every_key_that_names_a_file_is_known() -> None:
    words = ("file that holds", "table from", "from a table", "table with a header row")
    naming = {key.path[-1] for key in keys() if any(word in key.meaning for word in words)}

    assert naming == set(NAMING)


def test_what_cannot_be_read_names_nothing(tmp_path: Path) -> None:
    given = tmp_path / "scenario.toml"
    assert files_of_scenario(given) == (given,)
    given.write_text("is no TOML", encoding="utf-8")
    assert files_of_scenario(given) == (given,)
    given.write_text('layout.a.header = "../outside.h"', encoding="utf-8")
    assert files_of_scenario(given) == (given,)
    given.write_text('layout.a.header = "gone.h"', encoding="utf-8")
    assert files_of_scenario(given) == (given, tmp_path / "gone.h")
    assert files_of_scenario(given, ["no override"]) == (given,)


def test_a_pipe_is_left_for_who_reads_it() -> None:
    end, other = os.pipe()
    os.write(other, b'layout.a.header = "a.h"')
    path = Path(f"/dev/fd/{end}")

    assert files_of_scenario(path) == (path,)
    assert os.read(end, 6) == b"layout"
    os.close(end)
    os.close(other)


def test_headers_that_include_each_other_are_met_once(tmp_path: Path) -> None:
    one, other = tmp_path / "one.h", tmp_path / "other.h"
    one.write_text('#include "other.h"\n#include <stdint.h>\n#include "gone.h"\n', encoding="utf-8")
    other.write_text('#include "one.h"\n', encoding="utf-8")

    assert files_of_header(one) == (one, other)
