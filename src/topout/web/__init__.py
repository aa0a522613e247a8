"""The workshop in the browser; the only part that knows Django."""
