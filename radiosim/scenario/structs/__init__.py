"""What a scenario can say, one file a table: frozen msgspec structs with every key described."""
