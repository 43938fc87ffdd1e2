"""The demo and the management commands."""
