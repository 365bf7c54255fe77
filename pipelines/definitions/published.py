"""What the public names of a store mean: ``published.toml`` and the contract."""

import tomllib

from pipelines.base.sql import ROOMS
from pipelines.definitions.read_contract import read_contract


def public_names() -> dict[str, dict[str, object]]:
    """Return ``published.toml``: view -> grain and columns with their meaning."""
    return tomllib.loads((ROOMS / "definitions" / "published.toml").read_text(encoding="utf-8"))


def column_meaning(view: str, name: str) -> str | None:
    """Return the meaning of one column of a public view, or None where nobody wrote it."""
    spec = public_names()[view]["columns"]
    if isinstance(spec, dict) and name in spec:
        return str(spec[name])
    contract = read_contract()
    tables = [contract["admission"]] if view == "newborn" else list(contract.values())
    for table in tables:
        if name in table.columns:
            return table.columns[name].description
    return None
