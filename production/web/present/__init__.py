"""From the domain's records to what a page shows. Nothing here reads the database."""
