"""The workshop's own settings, and how it is kept."""
