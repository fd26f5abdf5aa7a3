"""What numbers do in a room: pure functions of arrays, one equation a function."""
