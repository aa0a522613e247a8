"""Jobs: the card, readings, plan, steps, hand-over, and every page that needs the core; `core` is the door."""
