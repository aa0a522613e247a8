"""Lines of the log go to a terminal too: they are cleaned where every printed line is."""

from __future__ import annotations

import logging

from topout.terminal import printable


class Line(logging.Formatter):
    """One record in a line, then its traceback where there is one."""

    def format(self, record: logging.LogRecord) -> str:
        return printable(super().format(record))
