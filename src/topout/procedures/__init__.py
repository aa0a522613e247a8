"""Procedures: the steps of a job as TOML, their model, their reader, and the names a sentence may use."""
