"""Start the command line: `python -m sunsched` and the `sunsched` script."""

import gc

from sunsched.base.late_modules import put_off

# New objects until the collector looks for garbage. A start-up makes a hundred thousand that stay; the usual 700 has
# them looked through some hundred times.
GARBAGE_AFTER = 100_000


def main() -> None:
    """Run the command line and leave with its exit code.

    What is alive at the end goes with the process: only the collector's last search through it is left out. Exit
    handlers run and streams are flushed as ever. Both together are a sixth of `table`.
    """
    gc.set_threshold(GARBAGE_AFTER)
    put_off()
    from sunsched.cli.app import run

    try:
        run()
    finally:
        gc.freeze()


if __name__ == "__main__":
    main()
