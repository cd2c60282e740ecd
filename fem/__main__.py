"""Run the command line as `python -m fem`."""

from fem.cli import main

if __name__ == "__main__":
    main()
