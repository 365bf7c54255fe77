"""Times: offsets, orders of day and month, 12-hour clocks, short years, serials, two columns."""

import datetime as dt

from tests.loading.awkward.truth import Case, csv_case, local, rows, stamp, unit

FIRST = dt.datetime(1899, 12, 30)
FIRST_1904 = dt.datetime(1904, 1, 1)


def times(form, more=None):  # type: ignore[no-untyped-def]
    """Rows whose two times are written by a function of the instant."""
    write = stamp(form) if isinstance(form, str) else form
    return rows(
        born=lambda one: write(one.born), taken=lambda one: write(one.taken), **(more or {})
    )


def declared(*forms: str) -> str:
    listed = ", ".join(f'"{form}"' for form in forms)
    return unit(time=f"formats = [{listed}]")


def offset(moment: dt.datetime, colon: bool = True) -> str:
    written = local(moment).strftime("%Y-%m-%dT%H:%M:%S%z")
    return f"{written[:-2]}:{written[-2:]}" if colon else written


def zulu(moment: dt.datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def mixed_offsets(moment: dt.datetime) -> str:
    return zulu(moment) if moment.minute % 2 else offset(moment)


def serial(moment: dt.datetime, first: dt.datetime = FIRST, digits: int = 10) -> str:
    gone = local(moment).replace(tzinfo=None) - first
    return f"{gone.total_seconds() / 86400:.{digits}f}"


def half_and_half(one: str, other: str):  # type: ignore[no-untyped-def]
    return lambda moment: stamp(one if moment.day % 2 else other)(moment)


def in_two(date: str, time: str):  # type: ignore[no-untyped-def]
    def written(name: str, moment: dt.datetime) -> dict[str, str]:
        return {f"{name} date": stamp(date)(moment), f"{name} time": stamp(time)(moment)}

    return rows(
        born=lambda one: written("born", one.born), taken=lambda one: written("taken", one.taken)
    )


TWO = {"birth_time": '{ from = ["born date", "born time"] }',
       "minutes": '{ from = ["taken date", "taken time"] }'}  # fmt: skip
ISO_OFFSET = "%Y-%m-%dT%H:%M:%S%z"

TIMES: list[Case] = [
    # Written offsets: the same instants, whatever they are written in.
    csv_case("offset_with_colon", declared(ISO_OFFSET), times(offset)),
    csv_case("offset_without_colon", declared(ISO_OFFSET), times(lambda at: offset(at, False))),
    csv_case("offset_zulu", declared(ISO_OFFSET), times(zulu)),
    csv_case("offset_mixed", declared(ISO_OFFSET), times(mixed_offsets)),
    csv_case(
        "offset_with_milliseconds",
        declared("%Y-%m-%dT%H:%M:%S.%f%z"),
        times(lambda at: offset(at).replace(":00+", ":00.000+")),
    ),
    csv_case(
        "offset_hours_alone",
        declared("%Y-%m-%d %H:%M%z"),
        times(lambda at: local(at).strftime("%Y-%m-%d %H:%M%z")[:-2]),
    ),
    csv_case(
        "offset_beside_local_times",
        declared(ISO_OFFSET, "%Y-%m-%d %H:%M"),
        rows(born=lambda one: offset(one.born)),
    ),
    csv_case(
        "offset_not_declared",
        declared("%Y-%m-%dT%H:%M:%S"),
        times(offset),
        unread=frozenset(("birth_time", f"B{n}") for n in range(1, 9)),
    ),
    csv_case(
        "offset_of_another_zone",
        unit(time=f'formats = ["{ISO_OFFSET}"]', zone="America/Chicago"),
        times(offset),
        refused="that America/Chicago does not have at that moment",
    ),
    csv_case(
        "offset_passed_over_as_letters",
        declared("%Y-%m-%dT%H:%M:%SZ"),
        times(zulu),
        refused="Write %z in its place",
    ),
    csv_case(
        "offset_passed_over_as_digits",
        declared("%Y-%m-%dT%H:%M:%S+01:00"),
        times(offset),
        refused="Write %z in its place",
    ),
    csv_case(
        "zone_by_name",
        declared("%Y-%m-%d %H:%M %Z"),
        times("%Y-%m-%d %H:%M %Z"),
        refused="has %Z, which is not read",
    ),
    # Day and month.
    csv_case("day_first", declared("%d.%m.%Y %H:%M"), times("%d.%m.%Y %H:%M")),
    csv_case("month_first", declared("%m/%d/%Y %H:%M"), times("%m/%d/%Y %H:%M")),
    csv_case(
        "day_and_month_short",
        declared("%d.%m.%Y %H:%M"),
        times(lambda at: f"{local(at).day}.{local(at).month}.{local(at):%Y %H:%M}"),
    ),
    csv_case(
        "day_first_read_as_month",
        declared("%m/%d/%Y %H:%M"),
        times("%d/%m/%Y %H:%M"),
        refused="can only be read with day and month the other way round",
    ),
    csv_case(
        "both_orders_declared",
        declared("%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M"),
        times("%d/%m/%Y %H:%M"),
        refused="would be 6 May 2004 07:08 as",
    ),
    csv_case(
        "both_orders_from_a_month_on",
        declared("%d/%m/%Y %H:%M"),
        times(lambda at: stamp("%d/%m/%Y %H:%M" if at.month < 6 else "%m/%d/%Y %H:%M")(at)),
        refused="can only be read with day and month the other way round",
    ),
    csv_case("month_in_letters", declared("%d-%b-%Y %H:%M"), times("%d-%b-%Y %H:%M")),
    csv_case(
        "month_in_capitals",
        declared("%d-%b-%y %H:%M"),
        times(lambda at: local(at).strftime("%d-%b-%y %H:%M").upper()),
    ),
    # Several forms.
    csv_case(
        "two_forms",
        declared("%d.%m.%Y %H:%M", "%Y-%m-%d %H:%M:%S"),
        times(half_and_half("%d.%m.%Y %H:%M", "%Y-%m-%d %H:%M:%S")),
    ),
    csv_case(
        "short_and_long_years",
        declared("%d.%m.%Y %H:%M", "%d.%m.%y %H:%M"),
        times(half_and_half("%d.%m.%Y %H:%M", "%d.%m.%y %H:%M")),
    ),
    csv_case(
        "own_form_of_one_column",
        unit(minutes='{ from = "taken", formats = ["%m/%d/%Y %I:%M %p"] }'),
        rows(taken=lambda one: stamp("%m/%d/%Y %I:%M %p")(one.taken)),
    ),
    csv_case("short_year", declared("%d.%m.%y %H:%M"), times("%d.%m.%y %H:%M")),
    csv_case(
        "short_year_read_as_long",
        declared("%d.%m.%Y %H:%M"),
        times("%d.%m.%y %H:%M"),
        unread=frozenset(("birth_time", f"B{n}") for n in range(1, 9)),
    ),
    csv_case(
        "short_year_in_two_orders",
        declared("%y/%m/%d %H:%M", "%d/%m/%y %H:%M"),
        times("%d/%m/%y %H:%M"),
        refused="Keep the form that the export means",
    ),
    # The clock.
    csv_case("twelve_hours", declared("%d/%m/%Y %I:%M %p"), times("%d/%m/%Y %I:%M %p")),
    csv_case(
        "twelve_hours_joined",
        declared("%d/%m/%Y %I:%M%p"),
        times(lambda at: local(at).strftime("%d/%m/%Y %I:%M%p").lower()),
    ),
    csv_case(
        "twelve_hours_without_half",
        declared("%d/%m/%Y %I:%M"),
        times("%d/%m/%Y %I:%M"),
        refused="07:05 would be morning and evening",
    ),
    csv_case(
        "half_passed_over",
        declared("%d/%m/%Y %H:%M %p"),
        times("%d/%m/%Y %H:%M %p"),
        refused="write %I",
    ),
    csv_case("seconds", declared("%Y-%m-%d %H:%M:%S"), times("%Y-%m-%d %H:%M:%S")),
    csv_case("no_marks", declared("%Y%m%d %H%M"), times("%Y%m%d %H%M")),
    csv_case("no_marks_at_all", declared("%Y%m%d%H%M"), times("%Y%m%d%H%M")),
    csv_case(
        "no_hour",
        declared("%Y-%m-%d"),
        times("%Y-%m-%d"),
        refused="has no hour",
    ),
    csv_case("not_a_form", declared("ISO"), times(zulu), refused="is no form of a time"),
    # Numbers that count from a day or a second.
    csv_case("excel_serial", declared("excel"), times(serial)),
    csv_case("excel_serial_rounded", declared("excel"), times(lambda at: serial(at, FIRST, 6))),
    csv_case("excel_1904", declared("excel_1904"), times(lambda at: serial(at, FIRST_1904))),
    csv_case(
        "excel_serial_beside_text",
        declared("excel", "%d.%m.%Y %H:%M"),
        times(lambda at: serial(at) if at.day % 2 else stamp("%d.%m.%Y %H:%M")(at)),
    ),
    csv_case(
        "excel_serial_decimal_comma",
        unit(time='formats = ["excel"]', more='[locale]\ndecimal = ","'),
        rows(
            born=lambda one: serial(one.born).replace(".", ","),
            taken=lambda one: serial(one.taken).replace(".", ","),
            length=lambda one: f"{one.length_cm:.1f}".replace(".", ","),
            temp=lambda one: f"{one.temperature_c:.1f}".replace(".", ","),
        ),
    ),
    csv_case(
        "both_date_systems",
        declared("excel", "excel_1904"),
        times(serial),
        refused="a bare number cannot be both",
    ),
    csv_case("unix_seconds", declared("unix_seconds"), times(lambda at: f"{at.timestamp():.0f}")),
    csv_case(
        "unix_milliseconds",
        declared("unix_milliseconds"),
        times(lambda at: f"{at.timestamp() * 1000:.0f}"),
    ),
    # Date and time in two columns.
    csv_case(
        "two_columns", unit(time='formats = ["%d.%m.%Y %H:%M"]', **TWO), in_two("%d.%m.%Y", "%H:%M")
    ),
    csv_case(
        "two_columns_twelve_hours",
        unit(time='formats = ["%m/%d/%Y %I:%M %p"]', **TWO),
        in_two("%m/%d/%Y", "%I:%M %p"),
    ),
    csv_case(
        "two_columns_time_alone",
        unit(time='formats = ["%H:%M"]'),
        in_two("%d.%m.%Y", "%H:%M"),
        refused='from = ["date", "time"]',
    ),
    csv_case(
        "two_columns_a_blank_time",
        unit(time='formats = ["%d.%m.%Y %H:%M"]', **TWO),
        [
            row | ({"born time": ""} if row["key"] == "B3" else {})
            for row in in_two("%d.%m.%Y", "%H:%M")
        ],
        unread=frozenset({("birth_time", "B3")}),
    ),
    # Clock times beside minutes.
    csv_case(
        "minutes_beside_clock_times",
        unit(minutes='{ from = "taken", unit = "min" }'),
        rows(taken=lambda one: str(one.taken_after)),
    ),
    csv_case(
        "hours_and_minutes_in_two_columns",
        unit(minutes='{ from = ["h", "m"], unit = ["h", "min"] }'),
        rows(taken=lambda one: {"h": str(one.taken_after // 60), "m": str(one.taken_after % 60)}),
    ),
    csv_case(
        "one_time_out_of_every_form",
        declared("%d.%m.%Y %H:%M"),
        times(lambda at: "31.02.2026 07:00" if at.month == 6 else stamp("%d.%m.%Y %H:%M")(at)),
        unread=frozenset({("birth_time", "B5")}),
    ),
]
