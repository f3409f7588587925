"""Commands: parse, one service call, a table."""
