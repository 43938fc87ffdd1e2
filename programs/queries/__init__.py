"""Reads over the library and programs."""
