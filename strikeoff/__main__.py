"""``python -m strikeoff``: the command line without its script."""

from strikeoff.cli.main import main

if __name__ == "__main__":
    main()
