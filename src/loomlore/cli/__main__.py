"""``python -m loomlore.cli`` is the same as ``loomlore``."""

from loomlore.cli import main

main()
