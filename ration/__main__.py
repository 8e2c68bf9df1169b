"""`python -m ration` is the command."""

from ration.cli import main

if __name__ == "__main__":
    main(prog_name="ration")
