"""Topout: what a change does to a bicycle's suspension, and the record of the work."""

__version__ = "0.1.0"
