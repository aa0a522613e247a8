"""The workshop's own commands."""
