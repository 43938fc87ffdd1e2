"""Screens of the library and the program editor."""
