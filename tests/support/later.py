"""Libraries that take a second to load and that few tests use: loaded when something of them is first used.

    if TYPE_CHECKING:
        import pvlib
    else:
        pvlib = Later("pvlib")

Every process of a run collects all tests; only one of them runs those.
"""

from __future__ import annotations

import importlib
from typing import Any


class Later:
    """Stands for a module. Not importlib's LazyLoader: that loads when pytest only looks at what a file holds."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, attribute: str) -> Any:
        if attribute.startswith(("_", "pytest")):
            raise AttributeError(attribute)
        return getattr(importlib.import_module(self._name), attribute)
