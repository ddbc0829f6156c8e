"""Reading the published tables of physics/components/data/."""

from pathlib import Path

_DATA = Path(__file__).parent / "data"


def read_table(name: str) -> dict[str, tuple[str, ...]]:
    """One table, its comment lines left out.

    Parameters
    ----------
    name : str
        Of the file.

    Returns
    -------
    dict
        Column to its texts, in the order of the rows.

    Examples
    --------
    >>> read_table("cell_constants.csv")["key"]
    ('nmc', 'nca', 'lfp', 'lipo_hv')
    """
    lines = (_DATA / name).read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in lines if line and not line.startswith("#")]
    return dict(zip(rows[0], zip(*rows[1:], strict=True), strict=True))
