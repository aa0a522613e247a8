"""The guide for the technician, in the workshop's own pages: drawn from docs/guide."""
