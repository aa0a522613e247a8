"""`topout serve`: the same as `manage.py bench`, under the command's own name."""

from __future__ import annotations

import os
from collections.abc import Sequence


def serve(arguments: Sequence[str]) -> int:
    """Start the workshop's pages; the options are those of the management command. Returns the exit status."""
    from django.core.management import ManagementUtility

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "topout.web.settings")
    ManagementUtility(["topout serve", "bench", *arguments]).execute()
    return 0
