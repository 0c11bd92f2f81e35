"""Every vector, whole, on the twin: `python -m tests.controller.twin_proof [WORD]`. Prints seconds compared."""

from __future__ import annotations

import sys

import numpy as np

from tests.controller.core_library import core_library
from tests.controller.moments import N_MOMENTS
from tests.controller.moments_lived import differences, packed_moments
from tests.controller.stress import N_STRETCHES, stretch
from tests.controller.twin_and_core import assert_alike
from tests.controller.twin_replay import recorded, twin_outputs
from tests.controller.vectors import VECTORS, place, settings_of, world_of


def main(words: list[str]) -> int:
    """Compare and print; 1 if any second differs."""
    total = differing = 0
    if not words:
        moments = enumerate(packed_moments(range(N_MOMENTS)))
        differing += sum(bool(differences(core_library(), number, packed)) for number, packed in moments)
        print(f"{N_MOMENTS} moments: {differing} differ", flush=True)
        for number in range(N_STRETCHES):
            total += len(assert_alike(*stretch(number)))
        print(f"{N_STRETCHES} stretches: {total} seconds, every output and all of the state alike", flush=True)
    for vector in VECTORS:
        if words and words[0] not in vector.name:
            continue
        world, own_ppm = world_of(vector)
        was = recorded(place(vector.site), settings_of(vector), world, own_ppm)
        said = twin_outputs(place(vector.site), settings_of(vector), was)
        different = int(np.count_nonzero(said != was.outputs))
        print(f"{vector.name}: {len(said)} seconds, {different} differ", flush=True)
        total += len(said)
        differing += different
    print(f"{total} seconds in all, {differing} differ")
    return int(differing > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
