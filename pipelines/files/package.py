"""The result set of one unit as Parquet files, described by a Data Package.

Data Package 2.0 (datapackage.org) is an open standard: ``datapackage.json`` names each file, its
columns, types and meanings. The meanings come from ``published.toml``, which is their one home.
"""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import duckdb

from pipelines.base.data_package import package, resource
from pipelines.base.sql import fixed_sql, quote
from pipelines.base.store_file import open_store
from pipelines.definitions.published import column_meaning, public_names
from pipelines.files.about import INTERNAL, WITH_RECORDS, About, visible
from pipelines.files.tables import meanings, spec
from pipelines.words.caution import CLOSING

_PARQUET: Final = "application/vnd.apache.parquet"
FLAG_COUNT: Final = "flag_count"
# Type of a column in the store -> type of a field (Table Schema 2.0).
_TYPES: Final = {
    "VARCHAR": "string",
    "BOOLEAN": "boolean",
    "INTEGER": "integer",
    "BIGINT": "integer",
    "HUGEINT": "integer",
    "DOUBLE": "number",
    "DATE": "date",
    "TIMESTAMP": "datetime",
}


def chosen_views(with_records: bool) -> list[str]:
    """Return the public views that are written whole, without single records unless asked."""
    data = spec()["data"]
    return [*data["counts"], *(data["records"] if with_records else [])]


def _meaning(view: str, name: str) -> str:
    """Return what a column means; ``as_recorded`` has the columns of ``result``."""
    if view == FLAG_COUNT:
        told = spec()[FLAG_COUNT]
        return meanings({name: told["columns"].get(name, "")}, told["meaning_from"])[name]
    words = column_meaning(view, name)
    if words is None and view == "as_recorded":
        words = column_meaning("result", name)
    # Every column that ships has a meaning; what has none is of a unit's own folder.
    return words or "A column of a unit's own: see the folder beside its file."


def _type(kind: str) -> str:
    if kind.endswith("[]"):
        return "array"
    return _TYPES.get(kind, "any")


def _select(store: duckdb.DuckDBPyConnection, view: str) -> str:
    """Return the query for one file: the view's rows of the unit, in an order that is fixed."""
    if view == FLAG_COUNT:
        return fixed_sql(f"files/{FLAG_COUNT}")
    columns = {str(row[0]) for row in store.execute(f"describe {view}").fetchall()}
    where = "where unit = $unit" if "unit" in columns else ""
    return f"select * from {view} {where} order by all"


def _copy(store: duckdb.DuckDBPyConnection, view: str, path: Path, about: About) -> None:
    """Write one Parquet file; what it is stands in its own metadata."""
    words = {
        "unit": about.unit,
        "month_of_review": about.when,
        "software": about.software,
        "internal": WITH_RECORDS if about.with_records else INTERNAL,
    }
    told = ", ".join(f"{key}: {quote(visible(text))}" for key, text in words.items())
    query = _select(store, view)
    store.execute(
        f"copy ({query}) to {quote(str(path))} "
        f"(format parquet, compression zstd, kv_metadata {{{told}}})",
        {"unit": about.unit} if "$unit" in query else {},
    )


def _resource(store: duckdb.DuckDBPyConnection, view: str, path: Path) -> dict[str, Any]:
    grain = spec()[FLAG_COUNT]["grain"] if view == FLAG_COUNT else public_names()[view]["grain"]
    read = f"read_parquet({quote(str(path))})"
    described = store.execute(f"describe select * from {read}").fetchall()
    rows = store.execute(f"select count(*) from {read}").fetchall()[0][0]
    fields = [
        {"name": row[0], "type": _type(row[1]), "description": _meaning(view, row[0])}
        for row in described
    ]
    return resource(view, path, _PARQUET, str(grain), {"fields": fields}, rows=rows)


def descriptor(about: About, resources: list[dict[str, Any]]) -> Mapping[str, Any]:
    """Return the content of ``datapackage.json``."""
    warning = f" {WITH_RECORDS}" if about.with_records else ""
    description = (
        f"{about.line} {INTERNAL}{warning} All months of the store; times are minutes after birth. "
        f"{CLOSING}"
    )
    return {
        **package(about.stem, visible(about.title), description, about.made_at),
        "unit": about.unit,
        "month_of_review": about.when,
        "software": about.software,
        "build": dict(about.build),
        "resources": resources,
    }


def mart_views() -> list[str]:
    """Return the public views of the mart: newborns, their ways and every event of theirs."""
    return list(spec()["data"]["mart"])


def write_package(
    store_path: Path,
    folder: Path,
    about: About,
    say: Callable[[str], None] = lambda _: None,
    views: Sequence[str] | None = None,
) -> Iterator[Path]:
    """Write a unit's views as Parquet and ``datapackage.json``; give the paths.

    ``views``: None for the result set, with flags counted.
    """
    folder.mkdir()
    resources = []
    with open_store(store_path) as store:
        found = {str(row[0]) for row in store.execute("show tables").fetchall()}
        wanted = views or [*chosen_views(about.with_records), FLAG_COUNT]
        missing = [view for view in wanted if view not in {*found, FLAG_COUNT}]
        if missing:
            say(f"not in this store, so not written: {', '.join(missing)}")
        for view in [view for view in wanted if view not in missing]:
            path = folder / f"{view}.parquet"
            _copy(store, view, path, about)
            resources.append(_resource(store, view, path))
            yield path
    path = folder / "datapackage.json"
    text = json.dumps(descriptor(about, resources), indent=2, ensure_ascii=False)
    path.write_text(text + "\n", encoding="utf-8")
    yield path
