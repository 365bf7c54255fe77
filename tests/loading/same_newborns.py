"""The same exports written anew in other formats and another shape, by general libraries.

From the long CSV files of a synthetic run of ``quillmere``: as workbooks and Parquet with dates
and numbers that are no text, as JSON lines, as wide CSV with one row per newborn, and as HL7 FHIR
by the project's own generator.
"""

import csv
import datetime as dt
import json
import re
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd

from pipelines.definitions.read_units import UNITS_DIR, find_unit
from synthetic_data.fhir import fhir_unit, write_fhir

UNIT_TEXT = (UNITS_DIR / "quillmere.toml").read_text(encoding="utf-8")
FORM = "%m/%d/%Y %H:%M"
NUMBER = re.compile(r"-?\d+(\.\d+)?")
KEY = "Study key"
Table = list[dict[str, str]]


def read_table(path: Path) -> Table:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def native(text: str) -> Any:
    """Return a date or a number where the whole text is one, as a program holds them."""
    if NUMBER.fullmatch(text):
        return float(text)
    try:
        return dt.datetime.strptime(text, FORM)
    except ValueError:
        return text or None


def unit_for(ending: str) -> str:
    return UNIT_TEXT.replace('.csv"', f'{ending}"')


def as_workbooks(exports: Path, out: Path) -> str:
    for path in sorted(exports.glob("*.csv")):
        book = openpyxl.Workbook(write_only=True)
        sheet = book.create_sheet("Export")
        table = read_table(path)
        sheet.append(list(table[0]))
        for row in table:
            sheet.append([cell if name == KEY else native(cell) for name, cell in row.items()])
        book.save(out / f"{path.stem}.xlsx")
    return unit_for(".xlsx")


def as_parquet(exports: Path, out: Path) -> str:
    """A column is of times or numbers only where every cell is."""
    for path in sorted(exports.glob("*.csv")):
        table = read_table(path)
        frame = pd.DataFrame(table).replace("", None)
        for name in frame.columns.drop(KEY):
            cells = [native(row[name]) for row in table]
            kinds = {type(cell) for cell in cells if cell is not None}
            if len(kinds) == 1 and kinds <= {float, dt.datetime}:
                frame[name] = pd.Series(cells, index=frame.index)
        frame.to_parquet(out / f"{path.stem}.parquet", index=False)
    return unit_for(".parquet")


def as_json_lines(exports: Path, out: Path) -> str:
    for path in sorted(exports.glob("*.csv")):
        with (out / f"{path.stem}.jsonl").open("w", encoding="utf-8") as stream:
            for row in read_table(path):
                cells = {
                    name: float(cell) if name != KEY and NUMBER.fullmatch(cell) else cell or None
                    for name, cell in row.items()
                }
                stream.write(json.dumps(cells) + "\n")
    return unit_for(".jsonl")


def as_fhir(exports: Path, out: Path) -> str:
    """As HL7 FHIR bulk NDJSON, a file a type, mothers and stays beside the newborns."""
    write_fhir(find_unit("quillmere"), exports, out)
    return fhir_unit(UNIT_TEXT)


def as_wide(exports: Path, out: Path) -> str:
    """One row per newborn and table, its first event in the first columns, and so on."""
    spec = tomllib.loads(UNIT_TEXT)
    newborns = list(exports.glob("newborns*.csv"))
    known = {row[KEY].strip() for path in newborns for row in read_table(path)}
    files = []
    for file in spec["files"][1:]:
        (path,) = exports.glob(file["pattern"])
        names, most = _widen(read_table(path), known, out / path.name)
        files.append(_wide_file(file, names, most))
    for path in newborns:
        (out / path.name).write_bytes(path.read_bytes())
    before, rest = UNIT_TEXT.split('[[files]]\npattern = "flowsheet*.csv"')
    return before + "\n".join(files) + "\n" + rest[rest.index("\n[recodes.") :]


def _widen(table: Table, known: set[str], path: Path) -> tuple[list[str], int]:
    """Write one row per newborn; what repeats or is of nobody is set aside, as a load does."""
    of: dict[str, list[dict[str, str]]] = defaultdict(list)
    seen = set()
    for row in table:
        said = tuple(cell.strip().lower() for cell in row.values())
        if said not in seen and row[KEY].strip() in known:
            seen.add(said)
            of[row[KEY].strip()].append(row)
    names = [name for name in table[0] if name != KEY] if table else []
    most = max((len(rows) for rows in of.values()), default=0)
    header = [KEY, *(f"{name} {place}" for place in range(1, most + 1) for name in names)]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(header)
        for key, rows in of.items():
            cells = [row[name] for row in rows for name in names]
            writer.writerow([key, *cells, *[""] * (len(header) - 1 - len(cells))])
    return names, most


def _wide_file(file: dict[str, Any], names: list[str], most: int) -> str:
    (take,) = file["takes"]
    lines = ["[[files]]", f'pattern = "{file["pattern"]}"']
    for place in range(1, most + 1):
        lines += ["[[files.takes]]", f'table = "{take["table"]}"', "[files.takes.columns]"]
        for column, source in take["columns"].items():
            spec = {"from": source} if isinstance(source, str) else dict(source)
            if spec.get("from") in names:
                spec["from"] = f"{spec['from']} {place}"
            lines.append(f"{column} = {_inline(spec)}")
    return "\n".join(lines)


def _inline(spec: dict[str, Any]) -> str:
    cells = [
        f"{key} = {_inline(value) if isinstance(value, dict) else json.dumps(value)}"
        for key, value in spec.items()
    ]
    return f"{{ {', '.join(cells)} }}"
