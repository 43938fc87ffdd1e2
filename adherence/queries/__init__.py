"""Reads for one screen or one rule each; they return frozen dataclasses."""
