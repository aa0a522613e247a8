"""What to fit: every way to what a job asks for, from the Shelf, side by side; one of them sets the plan's boxes."""
