"""`topout serve`: the same as `manage.py bench`, under the command's own name."""

from __future__ import annotations

from collections.abc import Sequence

from topout.web import environment, start


def serve(arguments: Sequence[str]) -> int:
    """Start the workshop's pages; the options are those of the management command. Returns the exit status."""
    from django.core.management import ManagementUtility

    start.prepare(["bench", *arguments], environment.data_folder())
    ManagementUtility(["topout serve", "bench", *arguments]).execute()
    return 0
