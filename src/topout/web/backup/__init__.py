"""Copies of the workshop: made while it is open, checked, put back, thrown away by age; the format is in docs/backups.md."""
