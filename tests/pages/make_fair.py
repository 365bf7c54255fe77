"""The fabricated store of ``make_store`` with families: strata, and gaps planted in them.

Families whose language is Spanish have vitamin K on record less often and decline the hepatitis
B vaccine more often, where ``planted``; otherwise language is drawn without regard to care.
"""

from pathlib import Path

import duckdb

from .make_store import HOSTILE, UNIT, make_store

# Two categories of the unit's own that would be markup, and a formula, if a page let them.
HOSTILE_PAYER = f"=1+1 {HOSTILE}"

_FAMILIES = """
update newborn set
    language = case hash(newborn_id) % 10
        when 0 then null when 1 then 'Spanish' when 2 then 'Spanish' else 'English' end,
    race_ethnicity = if(hash(newborn_id + 7) % 2 = 0, 'First group', 'Second group'),
    payer = case when hash(newborn_id + 3) % 4 = 0 then $payer
        when newborn_id between 400 and 430 then 'Rare payer' else 'Public' end,
    mode_of_birth = if(hash(newborn_id + 5) % 3 = 0, 'caesarean_planned', 'vaginal'),
    gestation_band = if(hash(newborn_id + 9) % 12 = 0, '34 to 36 weeks', '37 weeks or more'),
    birth_hour = hash(newborn_id + 11) % 24,
    birth_weekday = 1 + hash(newborn_id + 13) % 7,
    birth_place = if(hash(newborn_id + 5) % 3 = 0, 'operating_room', 'birth_room');
"""
_PLANTED = """
update membership set state = 'not_documented', minutes = null
from newborn
where newborn.newborn_id = membership.newborn_id and language = 'Spanish'
    and measure_id = 'vitamin_k' and state = 'met' and hash(newborn.newborn_id + 17) % 4 = 0;
update membership set state = 'exception', reason = 'declined', minutes = null
from newborn
where newborn.newborn_id = membership.newborn_id and language = 'Spanish'
    and measure_id = 'hepatitis_b_negative' and state = 'met'
    and hash(newborn.newborn_id + 19) % 5 = 0;
update membership set state = 'late', minutes = 90
from newborn
where newborn.newborn_id = membership.newborn_id and birth_hour < 4
    and measure_id = 'vitamin_k' and state = 'met' and hash(newborn.newborn_id + 23) % 3 = 0;
"""
_COUNTED = """
update membership set is_counted = state not in ('exclusion', 'exception')
    and not (missing = 'left_out' and state in ('not_documented', 'unusable'))
from measure_info where measure_info.measure_id = membership.measure_id;
"""
_QUARTERS = """
delete from result where period_kind = 'quarter';
insert into result by name
with placed as (
    select
        membership.measure_id, membership.unit, membership.state, membership.is_counted,
        date_trunc('quarter', membership.period)::date as period_start,
        'all newborns' as everyone,
        coalesce(race_ethnicity, 'not recorded') as race_ethnicity,
        coalesce(language, 'not recorded') as language,
        coalesce(payer, 'not recorded') as payer,
        coalesce(mode_of_birth, 'not recorded') as mode_of_birth,
        coalesce(gestation_band, 'not recorded') as gestation_band,
        coalesce(newborn.shift, 'not recorded') as shift,
    from membership inner join newborn using (newborn_id)
),
long as (
    unpivot placed
    on everyone, race_ethnicity, language, payer, mode_of_birth, gestation_band, shift
    into name stratifier value stratum
)
select
    measure_id, unit, 'quarter' as period_kind, period_start,
    if(stratifier = 'everyone', 'all newborns', stratifier) as stratifier, stratum,
    count(*) as initial_population,
    count(*) filter (where state = 'exclusion') as exclusion,
    count(*) filter (where state <> 'exclusion') as denominator,
    count(*) filter (where state = 'exception') as exception,
    count(*) filter (where state = 'met') as numerator,
    count(*) filter (where state = 'late') as late,
    count(*) filter (where state = 'not_done') as not_done,
    count(*) filter (where state = 'not_met') as not_met,
    count(*) filter (where state = 'not_documented') as not_documented,
    count(*) filter (where state = 'unusable') as unusable,
    count(*) filter (where is_counted) as counted,
    missing = 'left_out' as missing_left_out,
from long inner join measure_info using (measure_id)
group by all
"""


def make_fair_store(path: Path, planted: bool = True) -> Path:
    """Write the store to ``path`` and return it."""
    make_store(path)
    with duckdb.connect(str(path)) as store:
        store.execute(_FAMILIES, {"payer": HOSTILE_PAYER})
        if planted:
            store.execute(_PLANTED + _COUNTED)
        store.execute(_QUARTERS)
    return path


__all__ = ["HOSTILE_PAYER", "UNIT", "make_fair_store"]
