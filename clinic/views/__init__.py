"""Screens of the clinic itself: sign-in, home, people, policy."""
