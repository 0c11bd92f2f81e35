"""Another processor, imitated: the last bit of every sine, power and logarithm is moved at random.

Python imports this file at its start when its folder stands on PYTHONPATH. It replaces the functions of `math` and of
`numpy` whose last bit the standards leave open by ones that give the result, the next double below or the next above.
Whole numbers stay, as every library gives them exactly. `10.0 ** column` goes past the functions and is not moved.
NUDGE_SEED seeds the choice; without it nothing is replaced. `python tools/same_bytes.py --nudged` uses it.
"""

from __future__ import annotations

import importlib.abc
import importlib.util
import math
import os
import random
import sys
from collections.abc import Callable
from typing import Any

MATH = ("sin", "cos", "tan", "asin", "acos", "atan", "atan2", "exp", "log", "log10", "pow")
NUMPY = ("sin", "cos", "tan", "arcsin", "arccos", "arctan", "arctan2", "exp", "log", "log10", "log2", "power", "hypot")
SUMS = ("einsum", "matmul", "dot", "interp")  # their order of adding is open too


def _nudged(function: Callable[..., float], choice: random.Random) -> Callable[..., float]:
    def moved(*arguments: Any) -> float:
        value = function(*arguments)
        if not math.isfinite(value) or value == int(value):
            return value
        return math.nextafter(value, choice.choice((-math.inf, value, math.inf)))

    return moved


def _nudged_column(function: Callable[..., Any], np: Any, choice: Any) -> Callable[..., Any]:
    def moved(*arguments: Any, **options: Any) -> Any:
        found = function(*arguments, **options)
        column = np.asarray(found)
        if column.dtype.kind != "f":
            return found
        step = choice.integers(-1, 2, column.shape)
        toward = np.where(step > 0, np.inf, np.where(step < 0, -np.inf, column)).astype(column.dtype)
        open_ = np.isfinite(column) & (column != np.rint(column))
        value = np.where(open_, np.nextafter(column, toward), column)
        if isinstance(found, np.ndarray):
            found[...] = value
            return found
        return column.dtype.type(value)

    return moved


class _Numpy(importlib.abc.MetaPathFinder):
    """Finds numpy as ever, and replaces its functions once it is loaded."""

    def __init__(self, seed: int) -> None:
        self._seed = seed

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        if name != "numpy":
            return None
        sys.meta_path.remove(self)
        spec = importlib.util.find_spec(name)
        if spec is None or spec.loader is None:
            return spec
        load = spec.loader.exec_module

        def loaded(module: Any) -> None:
            load(module)
            choice = module.random.default_rng(self._seed)
            for name in NUMPY + SUMS:
                setattr(module, name, _nudged_column(getattr(module, name), module, choice))

        spec.loader.exec_module = loaded  # type: ignore[method-assign]
        return spec


if "NUDGE_SEED" in os.environ:
    _seed = int(os.environ["NUDGE_SEED"])
    _choice = random.Random(_seed)
    for _name in MATH:
        setattr(math, _name, _nudged(getattr(math, _name), _choice))
    sys.meta_path.insert(0, _Numpy(_seed))
