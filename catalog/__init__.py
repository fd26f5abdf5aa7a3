"""What loudspeakers, rooms and stock are."""
