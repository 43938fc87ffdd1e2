"""What a dose, a schedule and a library entry mean: pure Python, no clock, no database."""
