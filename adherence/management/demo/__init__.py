"""The demo: invented people, simulated from readable files, written through the real operations."""
