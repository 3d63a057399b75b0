"""Pages: rendered on the server, working without scripts."""
