"""Data files shipped inside packages: the only reading of files below the floors that may open a keeper's files."""

from __future__ import annotations

from importlib import resources


def package_bytes(package: str, *path: str) -> bytes:
    """The bytes of a data file of an installed package: `package_bytes("tzdata", "zones")`.

    Raises FileNotFoundError if the package holds no such file.
    """
    return resources.files(package).joinpath(*path).read_bytes()
