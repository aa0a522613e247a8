"""What is, what is asked, what to set."""
