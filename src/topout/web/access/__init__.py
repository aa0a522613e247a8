"""Who may see and change what, and how a change is made; the only gate. Imports no other app."""
