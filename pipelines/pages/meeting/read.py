"""What the sheet takes of a review that was read: its first points, the others, records, rows."""

from pipelines.base.frames import rows_of
from pipelines.pages.review import discuss
from pipelines.pages.review.discuss import Point
from pipelines.pages.review.frames import MeasureRow, RecordRow
from pipelines.pages.review.head import LINES, ranked
from pipelines.pages.review.read import ReviewData
from pipelines.pages.review.records import records_to_read


def told_first(data: ReviewData) -> list[Point]:
    """Return the points that stand on the first screen as lines."""
    return ranked(data)[: LINES - 1]


def further(data: ReviewData) -> list[Point]:
    """Return the points for the meeting that no line of the first screen says."""
    return [*ranked(data)[LINES - 1 :], *discuss.beside(data)]


def read_now(data: ReviewData) -> list[RecordRow]:
    """Return the records that are read now, the gravest first."""
    every = records_to_read(data)
    return rows_of(every[every["tier"] == "read_now"], RecordRow)


def row_of(data: ReviewData, measure_id: str) -> MeasureRow:
    """Return the row of one measure."""
    (row,) = rows_of(data.measures[data.measures["measure_id"] == measure_id], MeasureRow)
    return row
