"""Second ways to the core's numbers: another method, or the plain script, never the core's own past output."""
