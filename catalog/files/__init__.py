"""Loudspeakers and rooms in and out of files."""
