"""One report in every place that it was asked for."""

import json
from pathlib import Path

import pytest

from radiosim.cli.options import PageAndFiles
from radiosim.cli.targets import write_report
from tests.results.samples import REPORT


def test_a_report_goes_wherever_it_was_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    targets = PageAndFiles(
        json=str(tmp_path / "r.json"),
        csv=tmp_path / "csv",
        parquet=tmp_path / "parquet",
        page=tmp_path / "r.html",
    )
    write_report(REPORT, targets)

    assert json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))["starts"] == 20
    assert (tmp_path / "csv" / "streams.csv").read_text(encoding="utf-8").startswith("stream,")
    assert (tmp_path / "parquet" / "streams.parquet").is_file()
    assert "Culvert crawler" in (tmp_path / "r.html").read_text(encoding="utf-8")
    assert "FAILED: lamp" in capsys.readouterr().out


def test_json_on_standard_output_stands_alone(capsys: pytest.CaptureFixture[str]) -> None:
    write_report(REPORT, PageAndFiles(json="-"))

    assert json.loads(capsys.readouterr().out)["starts"] == 20
