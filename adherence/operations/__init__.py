"""Writes over sessions, flags, follow-up and reminders, one file per kind of record."""
