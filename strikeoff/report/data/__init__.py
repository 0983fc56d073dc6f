"""Tables that reports quote."""
