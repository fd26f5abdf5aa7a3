"""The catalogue's commands."""
