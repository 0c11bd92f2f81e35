"""A value that the test says is there, for types that allow None."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def known(value: T | None) -> T:
    """`value`, which must not be None."""
    assert value is not None
    return value
