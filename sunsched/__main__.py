"""Start the command line: `python -m sunsched` and the `sunsched` script."""


def main() -> None:
    """Run the command line and leave with its exit code."""
    from sunsched.cli.app import run

    run()


if __name__ == "__main__":
    main()
