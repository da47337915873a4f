"""The command line: each command opens a dossier, asks one question, and prints or writes the answer.

Exit codes: 0 fine, 1 findings of severity error (or a sentence contradicted, a step not so), 2 wrong use.
Nothing heavy is imported until a command runs.
"""

from __future__ import annotations

from loomlore.cli import designing, finding, keeping
from loomlore.cli.group import commands

__all__ = ["commands", "main"]

for command in (*keeping.COMMANDS, *designing.COMMANDS, *finding.COMMANDS):
    commands.add_command(command)


def main() -> None:
    """Run the command line."""
    commands(prog_name="loomlore")


if __name__ == "__main__":
    main()
