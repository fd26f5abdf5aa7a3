"""What to choose."""
