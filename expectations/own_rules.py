"""Rules of units' own: their names must be free, for a unit adds rules and changes none."""

from collections.abc import Sequence

from expectations.from_contract import CONTRACT_RULES
from expectations.rules_of_columns import COLUMN_RULES_DIR
from expectations.rules_of_values import RULES_DIR
from pipelines.base.errors import DeclarationError
from pipelines.base.headed_sql import said
from pipelines.definitions.own_files import OwnFile


def refuse_taken(of_values: Sequence[OwnFile], of_columns: Sequence[OwnFile]) -> None:
    """Raise DeclarationError where a unit's own rule has the name of another rule."""
    shipped = [path.stem for path in (*RULES_DIR.glob("*.sql"), *COLUMN_RULES_DIR.glob("*.sql"))]
    taken = {*shipped, *CONTRACT_RULES}
    for file in (*of_values, *of_columns):
        if file.id in taken:
            raise DeclarationError(
                f"{said(file.path)}: there is a rule '{file.id}' already; a unit adds rules and "
                "changes none (its numbers are set under [checks]). Choose another name."
            )
        taken.add(file.id)
