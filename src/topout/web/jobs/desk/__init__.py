"""What is seen of a job from outside: Bench, card, take-in."""
