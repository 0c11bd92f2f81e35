"""Write the Sun's nodes, package data of sunsched/sky: `python tools/sun_nodes.py [FILE]`."""

from __future__ import annotations

import sys
from pathlib import Path

from sunsched.sky import make_sun_nodes, sun_nodes


def main(arguments: list[str]) -> None:
    """Write sun_nodes.bin beside the module that reads it, or FILE."""
    path = Path(arguments[0]) if arguments else Path(sun_nodes.__file__).with_name("sun_nodes.bin")
    path.write_bytes(sun_nodes.packed(make_sun_nodes.nodes(sun_nodes.FIRST_NODE, sun_nodes.N_NODES)))


if __name__ == "__main__":
    main(sys.argv[1:])
