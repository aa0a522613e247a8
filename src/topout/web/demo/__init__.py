"""The demo workshop, entered through the forms' own functions; nobody imports it."""
