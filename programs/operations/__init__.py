"""Writes over the library and programs, one file per kind of record."""
