"""`radiosim range` and `radiosim channels` as a user types them."""

import json
from pathlib import Path

from tests.cli.typed import tiny, typed

FAR = "air.range = { distance_m = 10 }\n"
HALL = 'interferer.hall = { kind = "bursts", channel_mhz = 2468, power_dbm_at_receiver = -50 }\n'
REQUIRED = '[[requirement]]\nfigure = "stream.drive.gap_ms.max"\nat_most = 200\n'


def test_a_range_is_told_as_bands_in_80_columns(tmp_path: Path) -> None:
    path = tiny(tmp_path, FAR + REQUIRED)
    done = typed("range", path, "--points", 4, "--workers", 1)

    assert done.code == 0
    assert "How far the requirements hold" in done.out
    assert "A simulation is not proof" in " ".join(done.out.split())
    assert max(map(len, done.out.splitlines())) <= 80


def test_a_range_is_json_and_csv_too(tmp_path: Path) -> None:
    path = tiny(tmp_path, FAR)
    folder = tmp_path / "csv"
    done = typed("range", path, "--points", 3, "--json", "-", "--csv", folder, "--workers", 1)

    points = json.loads(done.out)["streams"]["drive"]
    assert [
        set(point) >= {"distance_m", "delivery_ratio", "longest_gap_ms"} for point in points
    ] == [True] * 3
    assert len((folder / "range.csv").read_text(encoding="utf-8").splitlines()) == 4


def test_without_distances_a_range_says_what_to_add(tmp_path: Path) -> None:
    done = typed("range", tiny(tmp_path))

    assert done.code == 2
    assert "--set air.range.distance_m=10" in done.err
    assert done.out == ""


def test_the_band_names_the_clearest_channels_first(tmp_path: Path) -> None:
    path = tiny(tmp_path, FAR + HALL)
    done = typed("channels", path)
    told = json.loads(typed("channels", path, "--json", "-").out)

    assert "68 (now)" in done.out
    assert "check your local radio rules" in " ".join(done.out.split())
    assert max(map(len, done.out.splitlines())) <= 80
    worst = [channel["worst"] for channel in told["channels"]]
    assert worst[0] < 1e-3 < worst[-1]


def test_a_band_says_which_distance_it_takes_where_none_is_given(tmp_path: Path) -> None:
    near = typed("channels", tiny(tmp_path, HALL))
    far = typed("channels", tiny(tmp_path, HALL), "--set", "air.range.distance_m=60")
    told = json.loads(typed("channels", tiny(tmp_path, HALL), "--json", "-").out)

    assert near.code == far.code == 0
    assert "no distance: 10 m in free space is taken" in " ".join(near.out.split())
    assert "no distance" not in far.out
    assert told["assumed_distance_m"] == 10.0


def test_a_band_of_nobody_says_what_to_add(tmp_path: Path) -> None:
    done = typed("channels", tiny(tmp_path))

    assert done.code == 2
    assert "interferer" in done.err
