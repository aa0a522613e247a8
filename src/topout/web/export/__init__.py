"""A workshop's data as files that other programs read, one rider's alone, and riders and bikes from such files."""
