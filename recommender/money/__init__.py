"""Where the money goes: rules and checks over lines, and the exact choice of a whole system."""
