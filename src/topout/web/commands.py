"""The commands of `topout` that need the workshop's records, by name; each takes its options and returns an exit status."""

from __future__ import annotations

from collections.abc import Sequence


def run(arguments: Sequence[str]) -> int:
    """Run the command that stands first; only what it needs is imported."""
    name, *options = arguments
    if name == "serve":
        from topout.web.serve import serve

        return serve(options)
    if name in ("backup", "restore"):
        from topout.web.backup import command

        return command.backup(options) if name == "backup" else command.restore(options)
    if name == "verify":
        from topout.web.verify.command import verify

        return verify(options)
    if name == "owner-code":
        from topout.web.owner_code import owner_code

        return owner_code(options)
    if name in ("export", "import"):
        from topout.web.export import command as files

        return files.export(options) if name == "export" else files.take_in(options)
    raise ValueError(f"{name}: no command of the workshop")
