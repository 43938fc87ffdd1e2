"""Machine-readable library and programs, read-only."""
