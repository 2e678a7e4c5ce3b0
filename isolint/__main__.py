"""`python -m isolint` is the console script."""

from __future__ import annotations

from isolint.cli import main

if __name__ == "__main__":
    main()
