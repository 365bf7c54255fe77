"""A unit's own measure or rule is one select over the store, and nothing else gets through.

What must be refused is written here as DuckDB's documentation names it (from memory); what must be
taken is every file that ships.
"""

from pathlib import Path

import pytest

from pipelines.base.errors import DeclarationError
from pipelines.base.headed_sql import read_headed_sql
from pipelines.base.one_select import refuse_more
from pipelines.base.sql import ROOMS

FOLDERS = ("pipelines/definitions/measures", "expectations/rules", "expectations/column_rules")
SHIPPED = sorted(path for one in FOLDERS for path in (ROOMS.parent / one).rglob("*.sql"))

HOSTILE = {
    "two statements": "select 1; select 2",
    "a file overwritten": "copy (select 1) to 'export.csv'",
    "a file overwritten beside": "select 1; copy newborn to 'export.csv'",
    "a table dropped": "drop table mart.newborn",
    "rows deleted": "delete from mart.newborn",
    "rows changed": "update mart.newborn set weight_g = 3000",
    "a table made": "create table own as select 1",
    "another store": "attach 'other.duckdb'",
    "a setting": "set enable_external_access = true",
    "a pragma": "pragma database_list",
    "an extension": "install httpfs",
    "an extension loaded": "load httpfs",
    "a secret": "create secret (type s3)",
    "an export": "export database 'folder'",
    "settings read": "select current_setting('home_directory')",
    "the machine": "select getenv('HOME')",
    "a file as a table": "select * from 'export.csv'",
    "a path as a table": 'select * from "/etc/passwd"',
    "a file read": "select * from read_csv('export.csv')",
    "a file read in any case": "select * from READ_TEXT('/etc/passwd')",
    "a file read as bytes": "select * from read_blob('/etc/passwd')",
    "the network": "select * from read_parquet('https://example.org/a.parquet')",
    "file names": "select * from glob('*')",
    "a file sniffed": "select * from sniff_csv('export.csv')",
    "hidden in a subselect": "select (select count(*) from read_csv('export.csv'))",
    "hidden in a fact": "with a as (select * from glob('*')) select * from a",
    "hidden in a join": "select 1 from mart.newborn join read_text('x') on true",
    "hidden in a union": "select 1 union all select count(*) from 'x.csv'",
    "hidden in a lateral": "select 1 from mart.newborn, lateral (select * from glob('*'))",
    "SQL as text": "select * from query('drop table mart.newborn')",
    "a table by its text": "select * from query_table('/etc/passwd')",
    "settings of the engine": "select * from duckdb_settings()",
    "secrets of the engine": "select * from duckdb_secrets()",
    "a sequence moved": "select nextval('a')",
    "a variable": "select getvariable('a')",
    "endless": "with recursive a as (select 1 as n union all select n + 1 from a) select * from a",
    "not SQL": "this is no select",
    "nothing but a comment": "-- nothing",
    "a call": "call pragma_version()",
    "a plan": "explain analyze select 1",
    "prepared": "prepare a as select 1",
    "changed inside a fact": "with a as (insert into mart.event select 1 returning 1) select 1",
    "rows deleted inside a fact": "with a as (delete from mart.event returning 1) select 1 from a",
    "out of the transaction": "rollback",
    "described": "describe mart.newborn",
}


@pytest.mark.parametrize("case", HOSTILE)
def test_what_is_more_than_a_select_is_refused_by_name(case: str) -> None:
    with pytest.raises(DeclarationError, match=r"^measures/own\.sql: "):
        refuse_more("measures/own.sql", HOSTILE[case])


HARMLESS = (
    "select record_id from mart.newborn",
    "with a as (select unnest([1, 2]) as n) select n from a",
    "select n from range(3) as t (n)",
    "select read_at from mart.event",  # a column may have any name
    "select 'copy (select 1) to ''x''' as words",
    "select count(*) filter (where weight_g > $limit) from mart.newborn",
)


@pytest.mark.parametrize("sql", HARMLESS)
def test_a_select_that_only_reads_the_store_is_taken(sql: str) -> None:
    refuse_more("measures/own.sql", sql)


def test_every_select_that_ships_would_be_taken_from_a_unit() -> None:
    taken = 0
    for path in SHIPPED:
        text = path.read_text(encoding="utf-8").lstrip()
        if text.startswith("/*"):
            refuse_more(path.name, text[2:].split("*/", 1)[1].strip().rstrip(";"))
            taken += 1
    assert taken > 100


def test_a_unit_s_own_file_is_held_to_it_where_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "own.sql"
    path.write_text("/*\ntitle = \"a\"\n*/\ncopy (select 1) to 'export.csv'\n", encoding="utf-8")
    with pytest.raises(DeclarationError, match="one select and nothing else"):
        read_headed_sql(path, {"title"}, set())
    path.write_bytes(b'/*\ntitle = "\xe9"\n*/\nselect 1\n')
    with pytest.raises(DeclarationError, match="not text in UTF-8"):
        read_headed_sql(path, {"title"}, set())
