"""The door's program as WebAssembly, for the page that plays it: `python tools/play_wasm.py` writes door.wasm again.

It needs Debian's clang and lld (tools/apt-packages.txt). The bytes are those of the compiler named below. Another may
give other bytes though nothing is wrong, so this tool says which it found and writes nothing unless it is told to
(`--any-compiler`). `--check` compares and writes nothing.
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from sunsched.emit.firmware import SOURCES

C_DIR = Path(__file__).parents[1] / "sunsched" / "controller" / "c"
WASM = Path(__file__).parents[1] / "sunsched" / "report" / "play" / "door.wasm"
CLANG, LINKER = "14.0.6", "14.0.6"  # Debian 12
# What the board, the clock of one site and its constants are on a chip; a play has its own (c/play).
NOT_PLAYED = ("door_main.c", "door_board_drive.c", "door_clock.c", "door_clock_chip.c", "door_site.c")
OWN = ("clock_chip.c", "door_model.c", "host_board.c", "play_clocks.c", "door_play.c", "bare/memory.c")
CLOCK_KINDS = 5
# -fno-ident and the linker's --strip-all keep the compiler's name and other text that is no program out of the file.
# -fno-builtin: else the compiler makes memset() of the loop that is memset().
FLAGS = (
    *("--target=wasm32-unknown-unknown", "-std=c11", "-Os", "-ffreestanding", "-fno-ident", "-fno-builtin"),
    *("-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-Werror", "-DDOOR_PROGRAM_SHOWN"),
)
LINK = ("--no-entry", "--strip-all", "--gc-sections", "--initial-memory=262144", "--max-memory=262144", "-z")


def found_compiler() -> tuple[str, str]:
    """The versions of clang and wasm-ld that are installed; "none" where there is no such program."""
    return _version("clang"), _version("wasm-ld")


def _version(program: str) -> str:
    if shutil.which(program) is None:
        return "none"
    said = subprocess.run([program, "--version"], capture_output=True, text=True, check=True).stdout
    number = re.search(r"\d+\.\d+\.\d+", said)
    return number[0] if number else said.splitlines()[0]


def other_compiler() -> str:
    """Why the bytes cannot be expected to agree, in a sentence; empty with the compiler that they are of."""
    clang, linker = found_compiler()
    if (clang, linker) == (CLANG, LINKER):
        return ""
    return (
        f"door.wasm is built by clang {CLANG} and wasm-ld {LINKER} (Debian 12, packages clang and lld); found here: "
        f"clang {clang}, wasm-ld {linker}. Other versions may give other bytes of the same program."
    )


def built() -> bytes:
    """The file's bytes. Raises CalledProcessError with the compiler's own words if it does not compile."""
    played = [C_DIR / name for name in SOURCES if Path(name).name not in NOT_PLAYED]
    sources = [(path, ()) for path in (*played, *(C_DIR / "play" / name for name in OWN))]
    clocks = [(C_DIR / "play" / "play_clock.c", (f"-DPLAY_CLOCK={kind}",)) for kind in range(CLOCK_KINDS)]
    places = [f"-I{C_DIR / place}" for place in ("play", "play/bare", "firmware", ".")]
    with tempfile.TemporaryDirectory() as folder:
        objects = []
        for number, (source, more) in enumerate((*sources, *clocks)):
            objects.append(Path(folder) / f"{number:02}.o")
            command = ["clang", *FLAGS, *more, *places, "-c", str(source), "-o", str(objects[-1])]
            subprocess.run(command, check=True, stdin=subprocess.DEVNULL)
        out = Path(folder) / "door.wasm"
        subprocess.run(["wasm-ld", *LINK, "stack-size=16384", *map(str, objects), "-o", str(out)], check=True)
        return out.read_bytes()


def main() -> int:
    """Build, then write or compare."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compare with the file that is shipped; write nothing")
    parser.add_argument("--any-compiler", action="store_true", help="write what another compiler's version makes")
    asked = parser.parse_args()
    why = other_compiler()
    if why and not asked.any_compiler:
        print(why, file=sys.stderr)
        return 2
    made = built()
    if asked.check:
        same = WASM.exists() and WASM.read_bytes() == made
        print("the same bytes" if same else "other bytes: run python tools/play_wasm.py and commit door.wasm")
        return int(not same)
    WASM.write_bytes(made)
    print(f"{WASM.name}: {len(made)} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
