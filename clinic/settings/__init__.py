"""Deployment settings, one module per way of running."""
