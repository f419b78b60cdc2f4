"""`python -m district` is the `district` command."""

from district.cli import main

if __name__ == "__main__":
    main()
