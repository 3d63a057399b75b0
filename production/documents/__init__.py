"""Documents of Potwright: frozen content in, tagged PDF out; no rows, no requests, nothing fetched."""
