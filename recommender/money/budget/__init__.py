"""Where the money goes: a budget's lines, the rules on them, and the change that mends what is broken."""
