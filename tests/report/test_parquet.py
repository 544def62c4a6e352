import csv
import io
from pathlib import Path

import pytest
from pyarrow import parquet

from radiosim.results import data as module
from radiosim.results.data import TableError, csv_files, parquet_files
from tests.cli.typed import tiny, typed
from tests.report.printing import reported
from tests.report.samples import several_starts


def test_every_csv_table_comes_back_cell_by_cell() -> None:
    texts = csv_files(reported(several_starts()))
    tables = parquet_files(reported(several_starts()))

    assert [name.removesuffix(".parquet") for name in tables] == [
        name.removesuffix(".csv") for name in texts
    ]
    for text, content in zip(texts.values(), tables.values(), strict=True):
        names, *rows = csv.reader(io.StringIO(text))
        table = parquet.read_table(io.BytesIO(content)).to_pydict()
        assert list(table) == names
        for k, values in enumerate(table.values()):
            assert [cell_of(value) for value in values] == [row[k] for row in rows]


def cell_of(value: object) -> str:
    """As a CSV table has it."""
    if value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else str(value)


@pytest.mark.parametrize(
    "command",
    [
        ["run", "{}", "--starts", "1"],
        ["channels", "{}", "--set", 'interferer.house={kind="bursts",channel_mhz=2437}'],
        ["layout", "show", "{}:plain_6"],
        ["layout", "check", "{}:plain_6"],
        ["layout", "compare", "{}:plain_6", "{}:plain_6"],
    ],
)
def test_commands_write_the_tables_that_csv_has(tmp_path: Path, command: list[str]) -> None:
    scenario = tiny(tmp_path)
    done = typed(
        *(part.replace("{}", str(scenario)) for part in command),
        *("--csv", tmp_path / "c", "--parquet", tmp_path / "p"),
    )

    assert done.err == ""
    assert {path.stem for path in (tmp_path / "p").iterdir()} == {
        path.stem for path in (tmp_path / "c").iterdir()
    }


def test_without_the_library_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "find_spec", lambda _: None)
    scenario = tiny(tmp_path)
    done = typed("run", scenario, "--starts", "1", "--parquet", tmp_path / "p")

    assert (done.code, done.out) == (2, "")
    assert done.err == "--parquet: needs pyarrow: python -m pip install -e '.[parquet]'\n"
    assert list(tmp_path.iterdir()) == [scenario]
    with pytest.raises(TableError, match="needs pyarrow"):
        parquet_files(reported(several_starts()))
