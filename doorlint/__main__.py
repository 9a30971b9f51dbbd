"""`python -m doorlint` is the command `doorlint`."""

from .cli import main

if __name__ == "__main__":
    main()
