"""Modules that a command's libraries import and the command seldom uses: loaded at first use.

typer, pydantic and numpy import more at their top than a command touches, most of it of the standard library: a
twelfth of the start of `table` and of `--help`. `put_off` makes the import of a named module give an empty one, which
loads itself in place when one of its names is first asked for; `from module import name` asks at once. The standard
library's own `importlib.util.LazyLoader` loads a module as soon as a second one imports it.

A name belongs into SELDOM_USED if its module is plain Python without parts that a system may lack: libraries find out
that such a part is missing by importing it. One that another version does not have is never asked for there.
"""

from __future__ import annotations

import sys
from importlib.machinery import PathFinder
from threading import RLock
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # each would load a part of the standard library
    from collections.abc import Iterable, Sequence
    from importlib.abc import Loader
    from importlib.machinery import ModuleSpec
else:
    Loader = object

SELDOM_USED = frozenset({
    "email",
    "fnmatch",
    "importlib.metadata._adapters",  # all of email.message with it, for a package's description
    "ipaddress",
    "json",
    "linecache",
    "numbers",
    "numpy._core._add_newdocs",  # both give numpy's functions the texts that `help()` shows, and do nothing else
    "numpy._core._add_newdocs_scalars",
    "pickle",
    "secrets",
    "subprocess",
    "token",
    "tokenize",
    "urllib",
    "zipfile",
})  # fmt: skip

_loading = RLock()  # one for all: a module that loads may ask for another that waits


class _Late(ModuleType):
    """A module that waits to be loaded."""

    def __getattr__(self, name: str) -> object:
        # What the import system and a look through all modules ask for is there already, or never will be.
        if name.startswith("__") and name != "__all__":
            raise AttributeError(f"module {self.__name__!r} has no attribute {name!r}")
        with _loading:
            loader = getattr(self.__spec__, "loader", None)
            if isinstance(loader, _LateLoader) and not loader.loads:
                loader.load(self)
        return object.__getattribute__(self, name)


class _LateLoader(Loader):
    """Gives an empty module at first, and later has the module's own loader fill it."""

    def __init__(self, own: Loader) -> None:
        self.own = own
        self.loads = False

    def create_module(self, spec: ModuleSpec) -> ModuleType:
        return _Late(spec.name)

    def exec_module(self, module: ModuleType) -> None:
        pass

    def load(self, module: ModuleType) -> None:
        """Fill the module. If that fails, it waits again: the next use meets the same error, not half a module."""
        self.loads = True
        try:
            self.own.exec_module(module)
        finally:
            self.loads = False
        module.__class__ = ModuleType
        if module.__spec__ is not None:
            module.__spec__.loader = module.__loader__ = self.own


class _Finder:
    """Finds the modules that are put off, before the import system's own finders do."""

    def __init__(self, names: frozenset[str]) -> None:
        self.names = names

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        spec = PathFinder.find_spec(name, path, target) if name in self.names else None
        if spec is not None and spec.loader is not None:
            spec.loader = _LateLoader(spec.loader)
        return spec


def put_off(names: Iterable[str] = SELDOM_USED) -> None:
    """Let these modules, where they are not loaded yet, load at their first use."""
    sys.meta_path.insert(0, _Finder(frozenset(names)))


def load_late_ones() -> None:
    """Load what still waits: threads then never meet a module that another thread is loading."""
    for module in [module for module in sys.modules.values() if isinstance(module, _Late)]:
        getattr(module, "__all__", None)
