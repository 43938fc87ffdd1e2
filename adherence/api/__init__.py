"""What the browser of a patient calls, and read-only records."""
