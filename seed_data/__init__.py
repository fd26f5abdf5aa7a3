"""Invented makers, loudspeakers and rooms for the demo."""
