"""On PostgreSQL there is no second run on PostgreSQL."""

from django.db import connection

collect_ignore = [] if connection.vendor == "sqlite" else ["test_postgresql.py"]
