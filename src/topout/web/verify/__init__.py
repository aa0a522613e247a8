"""Whether what is kept is still what was saved: the database, its guards, every photo, every plan computed again."""
