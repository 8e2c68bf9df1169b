"""Words, tables and JSON: answers as people and programs read them. No arithmetic here."""
