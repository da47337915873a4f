"""The group of all commands: their order, and the right word for a wrong one."""

from __future__ import annotations

import click

from loomlore.findings import nearest
from loomlore.version import VERSION

__all__ = ["commands"]


class Commands(click.Group):
    """A group that suggests the right word for a wrong one."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find a command, or say which is nearest."""
        name = args[0] if args else ""
        if name and not name.startswith("-") and self.get_command(ctx, name) is None:
            meant = nearest(name, self.list_commands(ctx))
            hint = (
                f" Did you mean {meant!r}?" if meant else f" Commands: {', '.join(self.list_commands(ctx))}."
            )
            raise click.UsageError(f"There is no command {name!r}.{hint}")
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click gives it
        """Commands in the order of the work, not of the alphabet."""
        return list(self.commands)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Each command has its own --help with examples.  Not approved data: work on an aircraft, and its "
    "release, belong to a licensed engineer under the rules of the local authority.",
)
@click.version_option(VERSION, prog_name="loomlore")
def commands() -> None:
    """Keep, prove and publish the record of a historic aircraft's electrical installation.

    A dossier is a folder of plain text files. Begin with "loomlore new FOLDER", type from the handbook, and
    ask "loomlore check FOLDER" as often as you like.
    """
