"""Django's command line for the workshop: `manage.py bench` starts it."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent

if __name__ == "__main__":
    sys.path.insert(0, str(ROOT / "src"))
    from topout.web import start

    start.prepare(sys.argv[1:], ROOT / ".run")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
