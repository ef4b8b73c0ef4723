"""The logbook: forms, the page of a day, files."""
