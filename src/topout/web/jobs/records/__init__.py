"""What is kept of a job: models, triggers, order, drafts, and the changes that write them."""
