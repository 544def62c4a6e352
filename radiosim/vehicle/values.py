"""What the receiver's program finds in the frames that it reads, field by field."""

import numpy as np

from radiosim.engine.payload import Instants, Values
from radiosim.engine.plan import Plan
from radiosim.trace import Trace


class ReadValues:
    """Columns of values over the rows of a trace's reads, each made when it is first asked for."""

    def __init__(self, trace: Trace, plan: Plan) -> None:
        self.reads, self.plan = trace.reads, plan
        self._columns: dict[tuple[int, int], Values] = {}

    def column(self, stream: int, field: int) -> Values:
        """Values of one field of a stream; NaN in the rows of other streams."""
        key = stream, field
        if key not in self._columns:
            mine = self.reads["stream"] == stream
            rows = self.reads[mine]
            column = np.full(len(self.reads), np.nan)
            column[mine] = self.plan.payloads[stream].column(
                field, rows["values_frame"], rows["values_ns"]
            )
            column.flags.writeable = False
            self._columns[key] = column
        return self._columns[key]

    def taken_ns(self, stream: int, fields: tuple[int, ...]) -> Instants:
        """When the oldest of some fields' values was taken, for each row (rule A7)."""
        sensors = [self.plan.payloads[stream].sensors[field] for field in fields]
        columns = [sensor.instants(self.reads["values_ns"]) for sensor in sensors]
        oldest: Instants = np.min(columns, axis=0)
        return oldest
