"""Screens of the patient and of the therapist."""
