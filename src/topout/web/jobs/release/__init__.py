"""Hand-over, set-up sheet and tags."""
