"""One command a room."""
