"""What an order came to: the plan drawn up, and counted again by other means."""
