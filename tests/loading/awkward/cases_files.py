"""Files: delimiters, encodings, titles, names twice or none, packed, and other formats."""

import datetime as dt
import gzip
import io
import json
import zipfile
from collections.abc import Sequence
from typing import Any

import openpyxl
import pandas as pd
import xlwt
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from tests.loading.awkward.truth import NEWBORNS, Case, Newborn, local, rows, text, unit, weeks_days

PLAIN = rows()
TEXT = text(PLAIN)
TITLES = 'pattern = "babies*.csv"\nheader_line = 4'
NAMES = list(PLAIN[0])
NO_NAMES = 'pattern = "babies*.csv"\ncolumns = ["{}"]'.format('", "'.join(NAMES))
SHEET = 'pattern = "babies*.xlsx"'


def of(name: str, content: str | bytes, file: str = "babies.csv", **more: Any) -> Case:
    """A case of one file; ``more``: keys of ``unit`` under ``said``, the others of Case."""
    data = content.encode() if isinstance(content, str) else content
    return Case(name, unit(**more.pop("said", {})), {file: data}, **more)


def declared(file: str, **more: str) -> dict[str, str]:
    return {"file": file, **more}


def zipped(**files: str) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name.replace("_csv", ".csv"), content)
    return buffer.getvalue()


def naive(moment: dt.datetime) -> dt.datetime:
    return local(moment).replace(tzinfo=None)


def cells(one: Newborn) -> list[Any]:
    """A newborn as a spreadsheet holds one: dates are dates, numbers are numbers."""
    return [
        one.key,
        naive(one.born),
        one.weight_g,
        one.length_cm,
        weeks_days(one.gestation_days),
        one.apgar,
        one.temperature_c,
        naive(one.taken),
    ]


GRID = [NAMES, *(cells(one) for one in NEWBORNS)]


def workbook(**sheets: Sequence[Sequence[Any]]) -> bytes:
    book = openpyxl.Workbook()
    assert book.active is not None
    book.remove(book.active)
    for name, grid in sheets.items():
        sheet = book.create_sheet(name)
        for row in grid:
            sheet.append(list(row))
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def merged_title() -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet["A1"] = "Newborns of 2026"
    sheet.merge_cells("A1:H1")
    sheet["A3"] = "exported for the audit"
    for line, row in enumerate(GRID, start=5):
        for place, cell in enumerate(row, start=1):
            sheet.cell(line, place, cell)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def old_workbook() -> bytes:
    book = xlwt.Workbook()
    sheet = book.add_sheet("Babies")
    style = xlwt.easyxf(num_format_str="DD.MM.YYYY HH:MM")
    for line, row in enumerate(GRID):
        for place, cell in enumerate(row):
            if isinstance(cell, dt.datetime):
                sheet.write(line, place, cell, style)
            else:
                sheet.write(line, place, cell)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def of_1904() -> bytes:
    """A workbook that counts its days from 1904, as some computers' did."""
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    assert book.active is not None
    for row in GRID:
        book.active.append(list(row))
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def beside(grid: Sequence[Sequence[Any]]) -> list[list[Any]]:
    """A second table to the right, with an empty column between."""
    return [[*row, None, "note" if at == 0 else at] for at, row in enumerate(grid)]


def parquet(frame: pd.DataFrame) -> bytes:
    buffer = io.BytesIO()
    frame.to_parquet(buffer, index=False)
    return buffer.getvalue()


FRAME = pd.DataFrame(GRID[1:], columns=NAMES)
AWARE = FRAME.assign(
    born=[pd.Timestamp(one.born) for one in NEWBORNS],
    taken=[pd.Timestamp(one.taken) for one in NEWBORNS],
)
IN_TEXTS = pd.DataFrame(PLAIN)


def json_lines(table: Sequence[dict[str, Any]]) -> str:
    return "".join(json.dumps(row) + "\n" for row in table)


NUMBERED = [
    row | {"weight": one.weight_g, "length": one.length_cm, "temp": one.temperature_c}
    for row, one in zip(PLAIN, NEWBORNS, strict=True)
]
NESTED = [
    {
        "key": row["key"],
        "born": row["born"],
        "gestation": row["gestation"],
        "apgar": row["apgar"],
        "size": {"weight": row["weight"], "length": row["length"]},
        "first": {"temp": row["temp"], "taken": row["taken"]},
    }
    for row in PLAIN
]
OF_NESTED = {
    "weight_g": '{ from = "size.weight", unit = "g" }',
    "length_cm": '{ from = "size.length", unit = "cm" }',
    "value": '{ from = "first.temp", unit = "Cel" }',
    "minutes": '"first.taken"',
}

FILES: list[Case] = [
    # Text.
    of("plain", TEXT),
    of("byte_order_mark", b"\xef\xbb\xbf" + TEXT.encode()),
    of("windows_line_ends", TEXT.replace("\n", "\r\n")),
    of("no_line_end_at_the_end", TEXT.rstrip("\n")),
    of("blank_lines", TEXT.replace("\n", "\n\n")),
    of("semicolons", text(PLAIN, ";"), said=declared('pattern = "babies*.csv"\ndelimiter = ";"')),
    of("semicolons_not_declared", text(PLAIN, ";"), refused="set delimiter = ';'"),
    of("tabs", text(PLAIN, "\t"), "babies.tsv", said=declared('pattern = "babies*.tsv"')),
    of("pipes", text(PLAIN, "|"), said=declared('pattern = "babies*.csv"\ndelimiter = "|"')),
    of(
        "single_quotes",
        text(rows(gestation=lambda one: weeks_days(one.gestation_days))).replace("B1,", "'B1',"),
        said=declared('pattern = "babies*.csv"\nquote = "\'"'),
    ),
    of(
        "no_quotes",
        text([row | {"note": 'said "yes'} for row in PLAIN]).replace('"said ""yes"', 'said "yes'),
        said=declared('pattern = "babies*.csv"\nquote = ""'),
    ),
    of("line_break_in_a_cell", text([row | {"note": "a\nb"} for row in PLAIN])),
    of(
        "utf_16",
        TEXT.encode("utf-16"),
        said=declared('pattern = "babies*.csv"\nencoding = "utf-16"'),
    ),
    of("utf_16_not_declared", TEXT.encode("utf-16"), refused='set encoding = "utf-16"'),
    of(
        "western_european",
        TEXT.replace("weight", "Gewicht°").encode("cp1252"),
        said=declared(
            'pattern = "babies*.csv"\nencoding = "cp1252"',
            weight_g='{ from = "Gewicht°", unit = "g" }',
        ),
    ),
    of(
        "western_european_not_declared",
        TEXT.replace("B1", "B\xf6").encode("cp1252"),
        refused="line 2: byte 0xf6 is not utf-8",
    ),
    of(
        "encoding_unknown",
        TEXT,
        said=declared('pattern = "babies*.csv"\nencoding = "ebcdic-x"'),
        refused="encoding 'ebcdic-x' is not known",
    ),
    of("titles_above", "Newborns\nwritten for the audit\n\n" + TEXT, said=declared(TITLES)),
    of(
        "titles_above_not_declared",
        "Newborns;2026\nwritten for the audit\n\n" + TEXT,
        refused="The names stand on line 4: set header_line = 4",
    ),
    of(
        "header_line_beyond",
        TEXT,
        said=declared('pattern = "babies*.csv"\nheader_line = 40'),
        refused="line 40: the line is blank or not there",
    ),
    of("no_names", text(PLAIN, names=False), said=declared(NO_NAMES)),
    of("no_names_not_declared", text(PLAIN, names=False), refused="columns = [...]"),
    of(
        "no_names_and_one_too_few",
        text(PLAIN, names=False),
        said=declared(NO_NAMES.replace(', "taken"', ""), minutes='{ from = "born" }'),
        refused="'columns' names 7 columns and the file has 8",
    ),
    of(
        "a_name_twice_by_place",
        TEXT.replace("weight,length", "size,size"),
        said=declared(
            'pattern = "babies*.csv"',
            weight_g='{ from = "size#1", unit = "g" }',
            length_cm='{ from = "size#2", unit = "cm" }',
        ),
    ),
    of(
        "a_name_twice",
        TEXT.replace("weight,length", "size,size"),
        said=declared(
            'pattern = "babies*.csv"',
            weight_g='{ from = "size", unit = "g" }',
            length_cm='{ from = "size", unit = "cm" }',
        ),
        refused="column 'size' stands 2 times",
    ),
    of(
        "a_name_over_two_lines",
        TEXT.replace("weight", '"weight\n(g)"'),
        said=declared('pattern = "babies*.csv"', weight_g='{ from = "weight (g)", unit = "g" }'),
    ),
    of("a_row_too_short", TEXT + "B9,2026-01-01 07:00\n", rejected=1),
    of("a_total_below", TEXT + ",,,,,,,\n", rejected=1),
    of("nothing", "", refused="the file is empty (0 bytes)"),
    of("blank", "\n\n", refused="no line says anything"),
    of("needed_column_missing", TEXT.replace("born", "birth"), refused="column 'born' is missing"),
    # Packed.
    of(
        "gzip",
        gzip.compress(TEXT.encode()),
        "babies.csv.gz",
        said=declared('pattern = "babies*.csv.gz"'),
    ),
    of(
        "gzip_cut_off",
        gzip.compress(TEXT.encode())[:-20],
        "babies.csv.gz",
        said=declared('pattern = "babies*.csv.gz"'),
        refused="damaged or was cut off",
    ),
    of("gzip_by_another_name", gzip.compress(TEXT.encode()), refused="packed with gzip"),
    of("zip", zipped(babies_csv=TEXT), "babies.zip", said=declared('pattern = "babies*.zip"')),
    of(
        "zip_of_two",
        zipped(babies_csv=TEXT, more_csv=TEXT),
        "babies.zip",
        said=declared('pattern = "babies*.zip"'),
        refused="the archive holds 2 files",
    ),
    of(
        "zip_that_is_none",
        TEXT,
        "babies.zip",
        said=declared('pattern = "babies*.zip"'),
        refused="this is no zip archive",
    ),
    # Sheets.
    of("sheet", workbook(Babies=GRID), "babies.xlsx", said=declared(SHEET)),
    of(
        "sheet_of_texts",
        workbook(Babies=[NAMES, *(list(row.values()) for row in PLAIN)]),
        "babies.xlsx",
        said=declared(SHEET),
    ),
    of(
        "sheet_and_decimal_comma",
        workbook(Babies=GRID),
        "babies.xlsx",
        said=declared(SHEET, more='[locale]\ndecimal = ","'),
    ),
    of(
        "sheet_with_a_merged_title",
        merged_title(),
        "babies.xlsx",
        said=declared(SHEET + "\nheader_line = 5"),
    ),
    of(
        "sheet_with_a_merged_title_not_declared",
        merged_title(),
        "babies.xlsx",
        said=declared(SHEET),
        refused="The names stand on line 5: set header_line = 5",
    ),
    of(
        "sheet_by_name",
        workbook(Notes=[["read me"]], Babies=GRID),
        "babies.xlsx",
        said=declared(SHEET + '\nsheet = "Babies"'),
    ),
    of(
        "sheet_beside_an_empty_one",
        workbook(Babies=GRID, Empty=[]),
        "babies.xlsx",
        said=declared(SHEET),
    ),
    of(
        "two_sheets",
        workbook(Notes=[["read me"]], Babies=GRID),
        "babies.xlsx",
        said=declared(SHEET),
        refused="say which is meant with sheet =",
    ),
    of(
        "no_such_sheet",
        workbook(Babies=GRID),
        "babies.xlsx",
        said=declared(SHEET + '\nsheet = "Newborns"'),
        refused="there is no sheet 'Newborns'",
    ),
    of(
        "two_tables_below",
        workbook(Babies=[*GRID, [], *GRID]),
        "babies.xlsx",
        said=declared(SHEET),
        refused="row 11: something begins below an empty row",
    ),
    of(
        "two_tables_beside",
        workbook(Babies=beside(GRID)),
        "babies.xlsx",
        said=declared(SHEET),
        refused="an empty column (I) stands between the names",
    ),
    of(
        "sheet_with_date_and_time_apart",
        workbook(
            Babies=[
                [*NAMES, "clock"],
                *([*row[:1], row[1].date(), *row[2:], row[1].time()] for row in GRID[1:]),
            ]
        ),
        "babies.xlsx",
        said=declared(SHEET, birth_time='{ from = ["born", "clock"] }'),
    ),
    of("old_sheet", old_workbook(), "babies.xls", said=declared('pattern = "babies*.xls"')),
    of(
        "sheet_that_is_none",
        TEXT,
        "babies.xlsx",
        said=declared(SHEET),
        refused="the workbook cannot be opened",
    ),
    of("sheet_by_another_name", workbook(Babies=GRID), refused="let its name end in .xlsx"),
    # Parquet and JSON lines.
    of("parquet", parquet(FRAME), "babies.parquet", said=declared('pattern = "babies*.parquet"')),
    of(
        "parquet_times_in_utc",
        parquet(AWARE),
        "babies.parquet",
        said=declared('pattern = "babies*.parquet"'),
    ),
    of(
        "parquet_of_texts",
        parquet(IN_TEXTS),
        "babies.parquet",
        said=declared('pattern = "babies*.parquet"'),
    ),
    of(
        "parquet_and_decimal_comma",
        parquet(FRAME),
        "babies.parquet",
        said=declared('pattern = "babies*.parquet"', more='[locale]\ndecimal = ","'),
    ),
    of(
        "parquet_of_lists",
        parquet(FRAME.assign(weight=[[1, 2]] * len(FRAME))),
        "babies.parquet",
        said=declared('pattern = "babies*.parquet"'),
        refused="column 'weight' holds lists",
    ),
    of(
        "parquet_that_is_none",
        TEXT,
        "babies.parquet",
        said=declared('pattern = "babies*.parquet"'),
        refused="this is no Parquet file",
    ),
    of(
        "parquet_with_a_header_line",
        parquet(FRAME),
        "babies.parquet",
        said=declared('pattern = "babies*.parquet"\nheader_line = 2'),
        refused="has its names",
    ),
    of("json_lines", json_lines(PLAIN), "babies.jsonl", said=declared('pattern = "babies*.jsonl"')),
    of(
        "json_numbers",
        json_lines(NUMBERED),
        "babies.jsonl",
        said=declared('pattern = "babies*.jsonl"'),
    ),
    of(
        "json_numbers_and_decimal_comma",
        json_lines(NUMBERED),
        "babies.jsonl",
        said=declared('pattern = "babies*.jsonl"', more='[locale]\ndecimal = ","'),
    ),
    of(
        "json_keys_within_keys",
        json_lines(NESTED),
        "babies.jsonl",
        said=declared('pattern = "babies*.jsonl"', **OF_NESTED),
    ),
    of(
        "json_line_cut_off",
        json_lines(PLAIN) + '{"key": "B9", ',
        "babies.jsonl",
        said=declared('pattern = "babies*.jsonl"'),
        rejected=1,
    ),
    of(
        "json_list",
        json.dumps(PLAIN),
        "babies.jsonl",
        said=declared('pattern = "babies*.jsonl"'),
        refused="write one object a line",
    ),
    of(
        "json_of_lists",
        json_lines([row | {"weight": [3020]} for row in PLAIN]),
        "babies.jsonl",
        said=declared('pattern = "babies*.jsonl"'),
        refused="'weight' is a list",
    ),
    of(
        "format_declared",
        TEXT,
        "babies.dat",
        said=declared('pattern = "babies*.dat"\nformat = "text"'),
    ),
    of(
        "format_unknown",
        TEXT,
        said=declared('pattern = "babies*.csv"\nformat = "csv2"'),
        refused="format 'csv2' of files",
    ),
    of("sheet_that_counts_from_1904", of_1904(), "babies.xlsx", said=declared(SHEET)),
    of(
        "sheet_and_a_form_of_the_other_order",
        workbook(Babies=GRID),
        "babies.xlsx",
        said=declared(SHEET, time='formats = ["%Y-%d-%m %H:%M:%S"]'),
        refused="Keep the form that the export means",
    ),
    Case(
        "lock_of_an_open_workbook",
        unit(file='pattern = "*.xlsx"'),
        {"babies.xlsx": workbook(Babies=GRID), "~$babies.xlsx": b"someone"},
    ),
    of(
        "first_line_says_the_delimiter",
        "sep=;\n" + text(PLAIN, ";"),
        said=declared('pattern = "babies*.csv"\ndelimiter = ";"'),
        refused="set header_line = 2",
    ),
    of(
        "a_quote_in_a_title",
        'Newborns "2026\n\n\n' + TEXT,
        said=declared(TITLES),
    ),
    of("delimiter_at_each_end", TEXT.replace("\n", ",\n")),
    Case(
        "two_files_that_overlap",
        unit(),
        {"babies_1.csv": TEXT.encode(), "babies_2.csv": TEXT.encode()},
        rejected=8,
    ),
    Case(
        "a_file_of_each_format",
        unit(file='pattern = "babies*"'),
        {
            "babies_1.csv": text(PLAIN[:4]).encode(),
            "babies_2.xlsx": workbook(Babies=[GRID[0], *GRID[5:]]),
        },
    ),
]
