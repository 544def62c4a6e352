"""The model as simpy processes, one for each thing that lives in the world: for reading."""

from radiosim.engine.reference.world import run

__all__ = ["run"]
