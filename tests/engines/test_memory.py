"""Whatever stands in memory that is not zeroed, a run and its figures are the same."""

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given

from radiosim.engine import jit
from radiosim.engine.simulate import load_fast, simulate
from radiosim.measure.summarise import summarise
from radiosim.results.data import json_of
from radiosim.scenario import Scenario
from radiosim.trace import ROWS
from radiosim.vehicle.vehicle import run_vehicle
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

RUN = importlib.import_module("radiosim.engine.fast.compiled_run")
"""The module: its package has a function of that name."""


class Soiled:
    """numpy, but for what it leaves in memory that it is asked for."""

    def __init__(self, byte: int) -> None:
        self._byte = byte
        self.soiled = 0

    def __getattr__(self, name: str) -> Any:
        return getattr(np, name)

    def empty(self, *arguments: Any) -> Any:
        """Room full of one byte."""
        room = np.empty(*arguments)
        room.view(np.uint8)[...] = self._byte
        self.soiled += 1
        return room


@contextmanager
def soiled(byte: int) -> Iterator[None]:
    memory = Soiled(byte)
    with patch.object(RUN, "np", memory), patch.object(jit, "np", memory):
        yield
    assert memory.soiled >= 4, "the world, the program's events, what outputs are told and do"


def all_of(given: Scenario) -> list[Any]:
    """Bytes and texts of everything that a start comes to."""
    trace = simulate(given, engine="fast")
    outputs = run_vehicle(trace).outputs.values()
    tables = [getattr(trace, name) for name in ROWS]
    tables += [table for output in outputs for table in (output.told, output.effects)]
    return [*(table.tobytes() for table in tables), json_of(summarise(trace))]


@pytest.mark.skipif(isinstance(load_fast(), str), reason="nothing is compiled")
@given(scenarios)
@examples(30)
def test_what_stood_in_memory_before_does_not_matter(given: Scenario) -> None:
    with soiled(0):
        clean = all_of(given)
    for byte in (0x01, 0x7F, 0xFF):
        with soiled(byte):
            assert all_of(given) == clean
