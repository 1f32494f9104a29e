"""Exit codes."""

CLEAR, OVER, WRONG, STOPPED = 0, 1, 2, 130
