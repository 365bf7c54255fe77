"""The skeleton of a new measure: one file with comments, whose example already runs."""

import datetime as dt
import re
from pathlib import Path

from pipelines.base.errors import DeclarationError
from pipelines.base.sql import ROOMS
from pipelines.base.whole_files import write_whole
from pipelines.definitions.owners import OWNERS
from pipelines.definitions.read_measures import GROUPS, KINDS, MEASURES_DIR
from pipelines.definitions.read_units import read_unit

_TEMPLATE = '''\
/*
# Everything between the stars is TOML. DEVELOPERS.md explains each key.
title = "{title}"
question = "Which question does the unit ask?"
group = "contact and feeding"    # one of: {groups}
kind = "proportion"              # one of: {kinds}
direction = "higher"             # is higher, lower or neither better?
population = "Live-born newborns born in the unit"
numerator = "First bath at 6 hours or later"
anchor = "birth"
# Minutes after birth, both edges included. A window without a published value is local.
window = {{ at_least = 360, at_most = 10080 }}
window_status = "local"
# Whose event it is, one of: {owners}. Stillbirth, death, comfort care and moves follow from it.
owner = "born_here"
exceptions = "None"
# not_met: a newborn without a record counts against the rate; left_out: only in the bounds.
missing = "not_met"
# No target unless a source publishes one. A unit sets its own in its file.
sources = ["Local decision, no published value"]
documentation_trap = "What would make good care look bad here, or bad care look good?"
caution = "Screens records; local policy decides."
balancing = []
version = "1.0"

# How grave a miss is, and why: sentinel, serious, process or descriptive. What is late, not
# documented or unusable counts one level less; [gravity.states] says otherwise.
[gravity]
level = "process"
why = "How the work runs; no single record is read for it."

[[history]]
version = "1.0"
on = {today}
what = "First version"

# Worked examples are the measure's tests and its documentation.
[[examples]]
because = "minute 360 counts, 359 does not; no row is not documented"
given.admission = """
record_id
A
B
C
"""
given.care = """
record_id | kind | minutes | status
A         | bath | 360     | done
B         | bath | 359     | done
"""
expect = """
record_id | state
A         | met
B         | not_met
C         | not_documented
"""
*/
-- One row per newborn, facts only; the engine derives the state.
with bath as (
    select
        newborn_id,
        min(minutes) filter (where is_usable) as minutes,
    from mart.event
    where
        table_name = 'care'
        and kind = 'bath'
        and status = 'done'
    group by newborn_id
)

select
    newborn.newborn_id,
    bath.newborn_id is not null as is_documented,
    bath.minutes is not null as is_usable,
    bath.minutes,
from mart.newborn as newborn
left join bath using (newborn_id)
'''


def skeleton(measure_id: str) -> str:
    """Return the text of a new measure file."""
    return _TEMPLATE.format(
        today=dt.date.today().isoformat(),
        title=measure_id.replace("_", " ").capitalize(),
        groups=", ".join(GROUPS),
        kinds=", ".join(KINDS),
        owners=", ".join(OWNERS),
    )


def own_measures(unit_file: Path) -> Path:
    """Return where a unit's own measures lie: a folder beside its file, named as the file is.

    Raises DeclarationError where there is no such unit file.
    """
    read_unit(unit_file)
    if not unit_file.suffix:
        raise DeclarationError(f"{unit_file}: name the unit file with an ending, such as .toml.")
    return unit_file.with_suffix("") / "measures"


def shipped_measures() -> Path:
    """Return the project's measures, for a clone. Raises DeclarationError where it is installed."""
    if not (ROOMS.parent / "pyproject.toml").is_file():
        raise DeclarationError(
            "an installed program is not edited, and a measure written there would go with its "
            "next version. Give --unit my_unit.toml: the measure then lies in my_unit/measures "
            "beside that file and is found there; or --folder FOLDER, to move it there yourself."
        )
    return MEASURES_DIR


def write_skeleton(measure_id: str, folder: Path | None = None) -> Path:
    """Write the skeleton of a new measure; never over an existing file.

    ``folder`` None: among the project's own. Raises DeclarationError where the id is not fit for
    a file or is taken.
    """
    if not re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", measure_id):
        raise DeclarationError(
            f"'{measure_id}' cannot name a measure: use lower-case words joined by underscores, "
            "such as first_bath."
        )
    folder = folder or shipped_measures()
    for path in (MEASURES_DIR / f"{measure_id}.sql", folder / f"{measure_id}.sql"):
        if path.exists():
            raise DeclarationError(f"{path}: there is such a measure already; choose another name.")
    write_whole(path, skeleton(measure_id))
    return path
