"""Readings: their forms and pages, instruments and photos, and how they are shown."""
