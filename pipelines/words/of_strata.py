"""The words of a stratum."""

from pipelines.definitions.strata import LEVEL_WORDS, NOT_RECORDED


def stratum(name: str) -> str:
    """Say a stratum; the unit's own categories stand as the unit writes them.

    >>> stratum("caesarean_unplanned"), stratum("Spanish")
    ('Caesarean, not planned', 'Spanish')
    """
    if name == NOT_RECORDED:
        return NOT_RECORDED.capitalize()
    return LEVEL_WORDS.get(name, name)
