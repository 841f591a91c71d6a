"""What a page shows, made from what the workflow knows: frozen, and nothing that the page does not need."""
