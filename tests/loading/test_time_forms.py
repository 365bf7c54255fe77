"""Every form of time that lanugo itself names is read as what was written in it.

Texts are made by Python's ``strftime`` from instants of zoneinfo, and read by the SQL that a
build uses: the advice of a dry run, and of a draft, must lead to a right reading.
"""

import datetime as dt
import random
from pathlib import Path

import duckdb
import pytest

from pipelines.base.errors import DeclarationError
from pipelines.base.sql import quote
from pipelines.definitions.read_units import find_unit
from pipelines.definitions.unit_takes import Source
from pipelines.definitions.unit_times import checked_forms
from pipelines.stages.raw.raw_file import RawFile
from pipelines.stages.raw.time_forms import FORMS
from pipelines.stages.typed.texts import instant
from tests.loading.awkward.truth import UTC, local

ZONE = "Europe/Berlin"
FIRST = int(dt.datetime(2019, 1, 1, tzinfo=UTC).timestamp() // 60)
LAST = int(dt.datetime(2031, 12, 31, tzinfo=UTC).timestamp() // 60)


def instants(how_many: int) -> list[dt.datetime]:
    """Random minutes, without the hour that clocks show twice: no text can say which it is."""
    drawn = random.Random(16)
    made = [
        dt.datetime.fromtimestamp(drawn.randint(FIRST, LAST) * 60, UTC) for _ in range(how_many)
    ]
    hour = dt.timedelta(hours=1)
    return [
        one
        for one in made
        if len({local(each).utcoffset() for each in (one - hour, one, one + hour)}) == 1
    ]


def reader(*forms: str) -> str:
    """Return the SQL that reads ``text`` in a unit of this zone."""
    import dataclasses

    unit = dataclasses.replace(find_unit("quillmere"), zone=ZONE)
    raw = RawFile(unit, unit.files[0], Path("export.csv"), 0, [])
    return instant(raw, Source(columns=("at",), formats=forms), "text")


@pytest.fixture(scope="module")
def connection() -> duckdb.DuckDBPyConnection:
    return duckdb.connect()


@pytest.mark.parametrize("with_offset", [False, True])
def test_a_form_is_read_as_it_was_written(
    connection: duckdb.DuckDBPyConnection, with_offset: bool
) -> None:
    moments = instants(30)
    assert len(moments) > 25
    for form in (form for form in FORMS if ("%z" in form) == with_offset):
        assert checked_forms("a unit's file", [form]) == (form,)
        texts = ", ".join(f"({quote(local(one).strftime(form))})" for one in moments)
        found = connection.execute(
            f"select epoch({reader(form)}) from (values {texts}) as written (text)"
        ).fetchall()
        wrong = [at for at, (read,) in zip(moments, found, strict=True) if read != at.timestamp()]
        assert not wrong, form


def test_two_forms_of_ours_are_refused_or_never_take_one_anothers_texts(
    connection: duckdb.DuckDBPyConnection,
) -> None:
    """Of every two forms that may stand side by side, each text is read as it was meant."""
    moments, forms = instants(12), [form for form in FORMS if form.endswith("d %H:%M")]
    forms += [form for form in FORMS if form.lower().endswith("y %h:%m")]
    refused = 0
    for one in forms:
        for other in forms:
            try:
                checked_forms("a unit's file", [one, other])
            except DeclarationError:
                refused += 1
                continue
            texts = ", ".join(f"({quote(local(at).strftime(other))})" for at in moments)
            found = connection.execute(
                f"select epoch({reader(one, other)}) from (values {texts}) as written (text)"
            ).fetchall()
            assert [read for (read,) in found] == [at.timestamp() for at in moments], (one, other)
    assert refused >= 2, "day and month in two orders"


@pytest.mark.parametrize(
    ("form", "text"),
    [
        ("unix_milliseconds", "1798761600"),  # seconds: 21 January 1970
        ("unix_seconds", "0"),
        ("unix_seconds", "1798761600000"),  # milliseconds: the year 58970
        ("%d.%m.%Y %H:%M", "01.01.1970 00:00"),  # how many systems write that there is no time
        ("%d.%m.%Y %H:%M", "01.01.1900 00:00"),
        ("%d.%m.%Y %H:%M", "31.12.9999 23:59"),
    ],
)
def test_a_time_at_which_no_newborn_of_an_export_was_born_is_no_reading(
    connection: duckdb.DuckDBPyConnection, form: str, text: str
) -> None:
    (read,) = connection.execute(
        f"select {reader(form)} from (values (?)) as t (text)", [text]
    ).fetchone()  # type: ignore[misc]
    assert read is None
