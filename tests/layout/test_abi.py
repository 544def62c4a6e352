"""Targets, and the compilers that they are held against."""

from pathlib import Path

import pytest

from radiosim.layout.abi import ABIS
from tests.reference.c_structs import COMPILERS, Probe, images


def test_every_target_that_counts_as_checked_has_its_compiler() -> None:
    named = {one.abi: one.command[0] for one in COMPILERS}

    assert {name: abi.compiler for name, abi in ABIS.items() if not abi.label} == named


def test_a_probe_shows_the_bytes_of_one_field(tmp_path: Path) -> None:
    host = COMPILERS[0]
    if not host.is_there:
        pytest.skip("gcc is not installed")
    probe = Probe(struct="S", setting=".b = 1")

    (image,) = images(host, "struct S { uint8_t a; uint16_t b; };", [probe], tmp_path)

    assert image == b"\0\0\1\0"
