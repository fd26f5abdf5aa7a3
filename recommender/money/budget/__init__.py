"""Where the money goes: a budget's lines, the rules on them, and the smallest change that mends what is broken."""
