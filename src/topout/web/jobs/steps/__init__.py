"""The steps of a job: where it stands, what may be signed, and the pages."""
