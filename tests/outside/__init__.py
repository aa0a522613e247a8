"""Checks against what others published; each names its source beside it."""
