"""Everything that lies on the table, as PDF."""
