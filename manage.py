"""Django's own commands for work on Topout (`check`, `makemigrations`), with the settings and the database of `topout serve`."""

import os
import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent / "src"))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "topout.web.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
