"""The door for other programs: parse, call one service or selector, answer."""
