"""The Shelf: parts as measured, and tags."""
