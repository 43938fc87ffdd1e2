"""Rules that need no database: roles and clinic policy."""
