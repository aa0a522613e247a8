"""The plan page: what is set on the left, what it does on the right."""
